"""Bodies of revolution, cut by planes along or across their axis."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from math import pi

import numpy as np
from shapely import Polygon
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from recognizer.removal.solids import FLAT, Half, deep_in
from recognizer.snapshot import plane_axes
from recognizer.vector import cross, dot, scale, sub
from shared.units import Vector


@dataclass
class Revolve:
    """Profile (level along the axis, radius) turned about the axis o + t a, in a sector cut out by half-spaces."""

    o: Vector
    a: Vector
    profile: Polygon
    turn: float = 2 * pi
    halves: tuple[Half, ...] = ()
    base: float = field(init=False)

    def __post_init__(self) -> None:
        self.base = dot(self.o, self.a)

    @cached_property
    def bounds(self) -> np.ndarray:
        """(2, 3): lowest and highest coordinates; of a sector no more than its own."""
        return self._box(self.halves)

    @cached_property
    def around(self) -> np.ndarray:
        """See `Solid`: of the whole turn, as a sector that is widened on both sides grows most at its corner."""
        return self._box(())

    def _box(self, halves: tuple[Half, ...]) -> np.ndarray:
        x0, r0, x1, r1 = self.profile.bounds
        rows = []
        for k in range(3):
            c = self.o[k] - self.base * self.a[k]
            ends = (x0 * self.a[k], x1 * self.a[k])
            least, most = self._swing(k, halves)
            low, high = min(r0 * least, r1 * least), max(r0 * most, r1 * most)
            rows.append((c + min(ends) + low, c + max(ends) + high))
        return np.array(rows).T

    def _swing(self, k: int, halves: tuple[Half, ...]) -> tuple[float, float]:
        """Least and greatest component along axis k of the unit vectors away from the axis within the sector."""
        full = max(0.0, 1 - self.a[k] ** 2) ** 0.5
        if not halves:
            return -full, full
        way: Vector = (float(k == 0), float(k == 1), float(k == 2))
        out = sub(way, scale(self.a, self.a[k]))
        sides = [e for h in halves for e in (cross(self.a, h.n), cross(h.n, self.a))]
        values = [e[k] for e in sides if all(dot(e, h.n) < FLAT for h in halves)]
        if full > FLAT:
            for sign in (1.0, -1.0):
                if all(sign * dot(out, h.n) < FLAT for h in halves):
                    values.append(sign * full)
        return min(values), max(values)

    @cached_property
    def volume(self) -> float | None:
        """Exact by Pappus: area times the way of its centroid."""
        return self.turn * self.profile.area * self.profile.centroid.y if not self.profile.is_empty else 0.0

    def beside(self, other: Revolve) -> bool:
        """Whether another turns about the same axis and its profile lies beside this one's."""
        rel = sub(other.o, self.o)
        away = sub(rel, scale(self.a, dot(rel, self.a)))
        one_axis = dot(self.a, other.a) > 1 - 1e-9 and dot(away, away) < 1e-8
        return one_axis and self.profile.intersection(other.profile).area < 1e-6 * self.profile.area

    @cached_property
    def _both_sides(self) -> BaseGeometry:
        """Profile on both sides of the axis."""
        return self.profile.union(_mirrored(self.profile))

    def contains(self, p: np.ndarray, margin: float) -> np.ndarray:
        """(n,) True for points (n, 3) deeper inside than `margin`."""
        rel = p - np.array(self.o)
        t = rel @ np.array(self.a)
        r = np.sqrt(np.maximum(0.0, (rel * rel).sum(axis=1) - t * t))
        if margin < 0 or self.profile.bounds[1] > margin:
            ok = deep_in(self.profile, t + self.base, r, margin)
        else:  # the profile's side on the axis is no boundary
            ok = deep_in(self._both_sides, t + self.base, r, margin)
        for h in self.halves:
            ok &= p @ np.array(h.n) < h.c - margin
        return ok

    def samples(self) -> np.ndarray:
        """(n, 3) points of its profile turned to four places: some lie outside the sector."""
        q = self.profile.representative_point()
        x, y = plane_axes(self.a)
        foot = np.array(self.o) + (q.x - self.base) * np.array(self.a)
        return foot + q.y * np.array([x, y, (-x[0], -x[1], -x[2]), (-y[0], -y[1], -y[2])])


def _mirrored(profile: Polygon) -> BaseGeometry:
    return affine_transform(profile, [1, 0, 0, -1, 0, 0])
