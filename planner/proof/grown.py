"""All within a distance of a region, a distance that changes with the level: what rounds, slopes and necks sweep."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from planner.proof.material import Cuts, all_cuts
from planner.proof.plane import Plane
from planner.proof.rays import Array, Bundle, spread
from planner.proof.regions import around, pieces_around
from planner.proof.sweeps import DISC, Slab, chords_on, oblique

STAIR = 0.03
"""Mm of radius from one slab to the next along directions that are no axis of the frame: it lies within half of this."""
UPRIGHT = 1e-9
"""Mm of radius: a stretch of a profile that changes by less is upright."""


@dataclass(frozen=True)
class Grown:
    """A cutter of some profile with its centre all over a region, open upwards.

    where: region, lines or points in the plane. levels, radii: (k,) along the direction, rising, and the distance from
    `where` at each, linear between them, the last one for all above. Radii first grow and then shrink, or do one of both.
    quarter: chords in a quarter of a circle.
    """

    plane: Plane
    where: BaseGeometry
    levels: Array
    radii: Array
    quarter: int = DISC

    def at(self, radius: float) -> BaseGeometry:
        """What lies within a distance of the region."""
        return around(self.where, max(radius, 1e-6), self.quarter)

    def _parts(self, radius: float) -> BaseGeometry:
        """The same, in parts that may overlap: rays need no union of them."""
        parts = pieces_around(self.where, max(radius, 1e-6), self.quarter)
        return parts[0] if len(parts) == 1 else shapely.multipolygons(shapely.get_parts(parts))

    def cuts(self, bundle: Bundle) -> Cuts:
        """The stretches of the bundle's rays inside it."""
        if self.where.is_empty:
            return all_cuts([])
        if self.plane.axis is None:
            regions, bottoms, tops = zip(*((self.at(r), a, b) for a, b, r in self.stairs(STAIR)), strict=True)
            return oblique(self.plane, list(regions), np.array(bottoms), np.array(tops), bundle)
        if self.plane.axis == bundle.axis:
            return self._along(bundle)
        return all_cuts([self._across(k, bundle) for k in range(len(self.levels))])

    def stairs(self, step: float) -> Iterator[tuple[float, float, float]]:
        """(from level, to level, radius) of slabs whose radii differ by `step` at most, each the radius half way up."""
        for a, b, first, last in self._stretches():
            count = max(1, math.ceil(abs(last - first) / step)) if math.isfinite(b) else 1
            for k in range(count):
                low, high = ((a + (b - a) * x / count) if count > 1 else (a, b)[x] for x in (k, k + 1))
                yield low, high, first + (last - first) * (k + 0.5) / count

    def _stretches(self) -> Iterator[tuple[float, float, float, float]]:
        """(from level, to level, radius there, radius here) of every stretch of the profile that has a height."""
        ends = [*zip(self.levels.tolist(), self.radii.tolist(), strict=True), (math.inf, float(self.radii[-1]))]
        for (a, first), (b, last) in zip(ends[:-1], ends[1:], strict=True):
            if b > a:
                yield a, b, first, last

    def _along(self, bundle: Bundle) -> Cuts:
        """A ray at some distance is inside from where the profile has grown to it until it has shrunk below it."""
        rays = self._rays(float(self.radii.max()), bundle)
        off = np.zeros(len(rays))
        near = np.zeros(bundle.count, dtype=bool)
        near[self._rays(float(self.radii.min()), bundle)] = True
        far = ~near[rays]
        if far.any():
            off[far] = self._distances(np.column_stack([bundle.u[rays[far]], bundle.v[rays[far]]]))
        first, last = int(self.radii.argmax()), len(self.radii) - 1 - int(self.radii[::-1].argmax())
        bottom = np.interp(off, self.radii[: first + 1], self.levels[: first + 1])
        top = np.full(len(off), np.inf)
        if last < len(self.radii) - 1:
            top[far] = np.interp(off[far], self.radii[last:][::-1], self.levels[last:][::-1], left=np.inf)
        ends = (bottom, top) if self.plane.sign > 0 else (-top, -bottom)
        low, high = (np.clip(x, bundle.low - 1.0, bundle.high + 1.0) for x in ends)
        there = high > low
        return Cuts(rays[there], low[there], high[there])

    def _rays(self, radius: float, bundle: Bundle) -> Array:
        """Rays along the direction within a distance."""
        if radius < UPRIGHT and not self.where.area:
            return np.empty(0, dtype=np.int64)
        rows = bundle.by_v
        _, line, start, end = chords_on(
            [self._parts(radius)], rows.levels, 1, np.zeros(len(rows.levels), dtype=np.int64)
        )
        return rows.between(line, start, end)[0]

    def _distances(self, places: Array) -> Array:
        """(k,) distance of places (k, 2) from the region."""
        parts = shapely.get_parts(self.where)
        dimension = shapely.get_dimensions(parts)
        lines = np.concatenate([shapely.get_rings(parts[dimension == 2]), parts[dimension == 1]])
        points, line = shapely.get_coordinates(lines, return_index=True)
        same = line[1:] == line[:-1]
        sides = shapely.linestrings(np.stack([points[:-1][same], points[1:][same]], axis=1))
        tree = shapely.STRtree(np.concatenate([sides, parts[dimension == 0]]))
        (at, _), off = tree.query_nearest(shapely.points(places), return_distance=True, all_matches=False)
        out = np.empty(len(places))
        out[at] = off
        return out

    def _across(self, k: int, bundle: Bundle) -> Cuts:
        """Rays square to the direction in one stretch of the profile: where it leans, a slice at each ray's own level."""
        end = float(self.levels[k + 1]) if k + 1 < len(self.levels) else math.inf
        first, last = float(self.radii[k]), float(self.radii[min(k + 1, len(self.radii) - 1)])
        bottom = float(self.levels[k])
        if abs(last - first) < UPRIGHT or math.isinf(end) or end <= bottom:
            return Slab(self.plane, self.at(first), bottom, end).cuts(bundle) if end > bottom else all_cuts([])
        assert self.plane.axis is not None
        rows = bundle.rows(self.plane.axis)
        ends = sorted((self.plane.sign * bottom, self.plane.sign * end))
        row = np.arange(*np.searchsorted(rows.levels, ends))
        share = (self.plane.sign * rows.levels[row] - bottom) / (end - bottom)
        start, stop = rows.range(row, -np.inf, np.inf)
        which, place = spread(start, stop)
        ray = rows.order[place]  # in each row by the coordinate across both bundle and direction
        c = 3 - bundle.axis - self.plane.axis
        at = (bundle.u if c == (bundle.axis + 1) % 3 else bundle.v)[ray]
        regions = [self._parts(first + (last - first) * float(s)) for s in share]
        _, line, low, high = chords_on(regions, at, 0 if c == (self.plane.axis + 1) % 3 else 1, which)
        return Cuts(ray[line], low, high)
