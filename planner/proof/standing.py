"""How high material stands along a setup's direction: the heights that holders, entries and rapids must clear."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from planner.proof.material import Intervals, Workpiece, split
from planner.proof.plane import Plane
from planner.proof.rays import Array, Bundle
from planner.proof.sweeps import Slab, chords


@dataclass(frozen=True)
class Place:
    """Where something stands too high. over: mm above the level. at: (3,) in the frame."""

    over: float
    at: Array


class Heights:
    """The workpiece seen along a direction, at some time within a setup.

    tops: (n,) highest level of material on each ray of the bundle along it, -inf for none; None where the direction is
    no axis of the frame: then the material itself is asked for.
    """

    def __init__(self, piece: Callable[[], Workpiece], bundles: list[Bundle], plane: Plane, tops: Array | None) -> None:
        self._piece, self._bundles, self.plane, self.tops = cache(piece), bundles, plane, tops

    def above(self, where: BaseGeometry, by: float, level: float) -> Place | None:
        """The highest material over a level that stands within `by` mm of a region."""
        if where.is_empty or not self._any(where, by, level):
            return None
        region = where.buffer(by, 16) if by > 0.0 else where
        if self.tops is None or self.plane.axis is None:
            return self._slanted(region, level)
        rays = self.rays(region)
        if not len(rays):
            return None
        best = rays[int(np.argmax(self.tops[rays]))]
        top = float(self.tops[best])
        if top <= level:
            return None
        bundle = self._bundles[self.plane.axis]
        return Place(top - level, bundle.points(np.array([best]), np.array([self.plane.sign * top]))[0])

    def _any(self, where: BaseGeometry, by: float, level: float) -> bool:
        """Whether anything stands over a level in the rectangle round a region."""
        if self.tops is None or self.plane.axis is None:
            return any((highest > level).any() for highest in self._highest)
        high = np.flatnonzero(self.tops > level)
        bundle, (a, b, c, d) = self._bundles[self.plane.axis], where.bounds
        u, v = bundle.u[high], bundle.v[high]
        return bool(((u > a - by) & (u < c + by) & (v > b - by) & (v < d + by)).any())

    def rays(self, region: BaseGeometry) -> Array:
        """Rays of the bundle along the direction that stand over a region."""
        assert self.plane.axis is not None
        bundle = self._bundles[self.plane.axis]
        line, start, end = chords(region, bundle.by_v.levels, across=1)
        return bundle.by_v.between(line, start, end)[0]

    def free(self, places: Array, radius: float, level: float) -> bool:
        """Whether a disc finds no material above a level at one of some places (k, 2) at least."""
        if self.tops is None or self.plane.axis is None:
            return any(self._slanted(shapely.Point(p).buffer(radius), level) is None for p in places)
        bundle = self._bundles[self.plane.axis]
        return any(not (self.tops[bundle.in_disc(p, radius)] > level).any() for p in places)

    def walls(self) -> Heights:
        """Only what of it is the finished part."""
        piece = self._piece()
        own = [replace(m, there=m.there.take(m.pieces.own[m.there.piece])) for m in piece]
        return heights((own[0], own[1], own[2]), self.plane)

    @cached_property
    def _highest(self) -> list[Array]:
        """Highest level of each stretch, on each bundle."""
        d = self.plane.d
        pairs = ((m.there, m.pieces.bundle) for m in self._piece())
        return [np.maximum(b.levels(t.ray, t.low, d), b.levels(t.ray, t.high, d)) for t, b in pairs]

    def _slanted(self, region: BaseGeometry, level: float) -> Place | None:
        best: Place | None = None
        for material, highest in zip(self._piece(), self._highest, strict=True):
            high = material.there.take(highest > level)
            if not len(high.ray):
                continue
            bundle = material.pieces.bundle
            _, (taken,) = split(high, [Slab(self.plane, region, level, np.inf).cuts(bundle)])
            for end in (taken.low, taken.high):
                points = bundle.points(taken.ray, end)
                over = points @ self.plane.d - level
                if len(over) and (best is None or over.max() > best.over):
                    best = Place(float(over.max()), points[int(over.argmax())])
        return best


def heights(piece: Workpiece, plane: Plane) -> Heights:
    """The workpiece as it stands along a direction."""
    bundles = [m.pieces.bundle for m in piece]
    if plane.axis is None:
        return Heights(lambda: piece, bundles, plane, None)
    material = piece[plane.axis]
    return Heights(lambda: piece, bundles, plane, _tops(material.there, plane, bundles[plane.axis].count))


def _tops(there: Intervals, plane: Plane, count: int) -> Array:
    tops = np.full(count, -np.inf)
    ray, level = _outermost(there, plane)
    tops[ray] = level
    return tops


def _outermost(there: Intervals, plane: Plane) -> tuple[Array, Array]:
    """Rays that meet something, and the highest level on each. In order of ray and coordinate it is a ray's last, or its
    first.
    """
    turn = there.ray[1:] != there.ray[:-1]
    ends = (turn, [True]) if plane.sign > 0 else ([True], turn)
    outer = np.flatnonzero(np.concatenate(ends)[: len(there.ray)])
    return there.ray[outer], there.high[outer] if plane.sign > 0 else -there.low[outer]


def through_setup(left: Workpiece, taken: list[list[Intervals]], plane: Plane) -> Iterator[Heights]:
    """The workpiece before each operation of a setup, and after the last.

    left: what stays of it; taken: what each operation takes, on each bundle.
    """
    bundles, k = [m.pieces.bundle for m in left], plane.axis
    if k is None:
        yield from (Heights(_before(left, taken[n:]), bundles, plane, None) for n in range(len(taken) + 1))
        return
    tops = _tops(left[k].there, plane, bundles[k].count)
    steps: list[tuple[Array, Array]] = []
    for one in reversed(taken):  # back in time, each operation's material is put on again
        ray, level = _outermost(one[k], plane)
        steps.append((ray, tops[ray]))
        tops[ray] = np.maximum(tops[ray], level)
    for n in range(len(taken) + 1):
        yield Heights(_before(left, taken[n:]), bundles, plane, tops.copy())
        if steps:
            ray, level = steps.pop()
            tops[ray] = level


def _before(left: Workpiece, taken: list[list[Intervals]]) -> Callable[[], Workpiece]:
    """The workpiece before some was taken, made when it is asked for."""

    def piece() -> Workpiece:
        a, b, c = (m.with_back([t[k] for t in taken]) for k, m in enumerate(left))
        return a, b, c

    return piece
