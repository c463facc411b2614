"""Removal body of one feature: solids that are taken away, and solids that are left standing in them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from shapely.geometry.base import BaseGeometry

from recognizer.removal.solids import FLAT, Prism, Solid, polygons_of
from shared.units import Vector


def _parts(solid: Solid) -> list[Solid]:
    """One prism for each polygon of a prism's region."""
    if isinstance(solid, Prism) and solid.region.geom_type == "MultiPolygon":
        return [replace(solid, region=p) for p in polygons_of(solid.region)]
    return [solid]


@dataclass
class Body:
    """What a feature takes away: the union of `adds` without `fills`, inside the box."""

    name: str
    adds: list[Solid]
    fills: list[Solid] = field(default_factory=list)
    disjoint: bool = False
    """No two adds overlap, no two fills overlap, and every fill lies inside the adds: volumes may be summed."""

    @cached_property
    def bounds(self) -> np.ndarray:
        """(2, 3) over all adds."""
        b = np.array([s.bounds for s in self.adds])
        return np.array([b[:, 0].min(axis=0), b[:, 1].max(axis=0)])

    def pieces(self) -> list[Body]:
        """The body in parts that can be treated on their own, the same ones each time."""
        return self._pieces

    @cached_property
    def _pieces(self) -> list[Body]:
        if self.fills:
            return [self]
        return [Body(self.name, [s], disjoint=True) for add in self.adds for s in _parts(add)]

    def footprint(self, k: int) -> BaseGeometry | None:
        """Polygon across axis k that holds all its sections there, where that is more than its box tells."""
        s = self.adds[0]
        if len(self.adds) == 1 and isinstance(s, Prism) and abs(s.d[k]) > 1 - FLAT:
            return s.image(k)
        return None

    def volume(self, low: Vector, high: Vector) -> float | None:
        """Closed form where there is one: None where solids overlap or reach out of the box."""
        b = self.bounds
        if not (self.disjoint or (len(self.adds) == 1 and not self.fills)) or (b[0] < np.array(low) - 1e-6).any():
            return None
        if (b[1] > np.array(high) + 1e-6).any():
            return None
        plus, minus = [s.volume for s in self.adds], [s.volume for s in self.fills]
        if any(v is None for v in plus + minus):
            return None
        return sum(plus) - sum(minus)  # type: ignore[arg-type]

    def samples(self) -> np.ndarray:
        """(n, 3) some points inside."""
        # Off the axes of symmetry, along which rays would run into edges.
        p = np.concatenate([s.samples() for s in self.adds]) + (0.0031, 0.0017, 0.0023)
        return p[self.contains(p, 1e-3)]

    def contains(self, p: np.ndarray, margin: float) -> np.ndarray:
        """(n,) True for points deeper inside an add than `margin` and deeper than that outside every fill."""
        ok = np.zeros(len(p), dtype=bool)
        for s in self.adds:
            ok |= s.contains(p, margin)
        for s in self.fills:
            low, high = s.around
            slack = max(margin, 0.0)
            near = np.flatnonzero(ok & ((p > low - slack) & (p < high + slack)).all(axis=1))
            if len(near):
                ok[near] = ~s.contains(p[near], -margin)
        return ok
