"""What a moving cutter sweeps, and the stretches of rays that lie in it.

A Slab is a plane region between two levels, exact for the flat cutters that prismatic parts are made with; a Turned is
a body of revolution, exact for drills and sinks. Everything a plan does is put together from these two.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from planner.proof.material import Cuts, all_cuts
from planner.proof.plane import Plane
from planner.proof.rays import Array, Bundle, spread

DISC = 32
"""Chords in a quarter of a circle: they lie within 3e-4 of its radius."""


class Sweep(Protocol):
    """A swept body."""

    def cuts(self, bundle: Bundle) -> Cuts:
        """The stretches of the bundle's rays inside it."""


@dataclass(frozen=True)
class Slab:
    """A region of the plane across the direction, swept from level `bottom` to level `top` (may be infinite)."""

    plane: Plane
    region: BaseGeometry
    bottom: float
    top: float

    def cuts(self, bundle: Bundle) -> Cuts:
        """The stretches of the bundle's rays inside it."""
        if self.top <= self.bottom or self.region.is_empty:
            return all_cuts([])
        if self.plane.axis is None:
            return oblique(self.plane, [self.region], np.array([self.bottom]), np.array([self.top]), bundle)
        along = self.plane.sign * np.array([self.bottom, self.top])
        low, high = float(along.min()), float(along.max())
        if self.plane.axis == bundle.axis:
            low, high = max(low, bundle.low - 1.0), min(high, bundle.high + 1.0)
            line, start, end = chords(self.region, bundle.by_v.levels, across=1)
            ray, _ = bundle.by_v.between(line, start, end)
            return Cuts(ray, np.full(len(ray), low), np.full(len(ray), high))
        c = 3 - bundle.axis - self.plane.axis
        rows = bundle.rows(c)
        line, start, end = chords(self.region, rows.levels, across=0 if c == (self.plane.axis + 1) % 3 else 1)
        ray, which = rows.between(line, low, high)
        return Cuts(ray, start[which], end[which])


@dataclass(frozen=True)
class _Lines:
    """Rays of a bundle seen along a direction that is no axis of the frame: parallel lines, each with a level of its own.

    e, c: (3,) along and across the lines. speed: mm along e that a ray runs in one mm. rays: (n,) in order of level, levels:
    (n,) rising. offset: (n,) along e of each ray's zero; height: (n,) of it along the direction; climb: along that in one mm.
    """

    e: Array
    c: Array
    speed: float
    rays: Array
    levels: Array
    offset: Array
    height: Array
    climb: float


def _lines(plane: Plane, bundle: Bundle) -> _Lines:
    way = np.eye(3)[bundle.axis]
    side = way - plane.d * (way @ plane.d)
    speed = float(np.linalg.norm(side))
    e = side / speed
    c = np.cross(plane.d, e)
    start = bundle.points(np.arange(bundle.count), np.zeros(bundle.count))
    level = start @ c
    order = np.argsort(level, kind="stable")
    return _Lines(e, c, speed, order, level[order], start @ e, start @ plane.d, float(way @ plane.d))


def oblique(plane: Plane, regions: list[BaseGeometry], bottoms: Array, tops: Array, bundle: Bundle) -> Cuts:
    """Rays in slabs across a direction that is no axis of the frame: each ray is a line of its own."""
    rays = bundle.once(("lines", plane.d.tobytes()), lambda: _lines(plane, bundle))
    e, c = rays.e, rays.c
    rotated = shapely.transform(
        np.array(regions, dtype=object),
        lambda q: np.column_stack([q @ [plane.u @ e, plane.v @ e], q @ [plane.u @ c, plane.v @ c]]),
    )
    which, line, low, high = chords_on(list(rotated), rays.levels, across=1)
    ray, bottom, top = rays.rays[line], bottoms[which], tops[which]
    low, high = (low - rays.offset[ray]) / rays.speed, (high - rays.offset[ray]) / rays.speed
    height = rays.height[ray]
    if abs(rays.climb) > 1e-12:
        ends = np.array([(bottom - height) / rays.climb, (top - height) / rays.climb])
        low, high = np.maximum(low, ends.min(axis=0)), np.minimum(high, ends.max(axis=0))
        keep = high > low
    else:
        keep = (height > bottom) & (height < top)
    return Cuts(ray[keep], low[keep], high[keep])


def chords(region: BaseGeometry, levels: Array, across: int) -> tuple[Array, Array, Array]:
    """Where lines of a sorted list of levels run inside a region: (line, start, end) of each stretch.

    across: coordinate (0 or 1) that is constant along a line; start and end are values of the other one.
    """
    return chords_on([region], levels, across)[1:]


def chords_on(
    regions: list[BaseGeometry], levels: Array, across: int, which: Array | None = None
) -> tuple[Array, Array, Array, Array]:
    """The chords of several regions, one after the other: (region, line, start, end) of each stretch.

    levels: (n,) of the lines, rising. Where each region has lines of its own, which: (n,) is the region of each, never
    falling, and levels rise within a region's lines; a region's parts may then overlap, if their outer rings all turn one way.
    """
    a, b, of = _segments(regions)
    a, b = (a, b) if across == 1 else (a[:, ::-1], b[:, ::-1])
    lower, upper, keys = np.minimum(a[:, 1], b[:, 1]), np.maximum(a[:, 1], b[:, 1]), levels
    if which is not None and len(which) and len(of):  # from one region's levels to the next one's, all in one number
        base = min(float(levels.min()), float(lower.min()))
        far = max(float(levels.max()), float(upper.max())) - base + 1.0
        keys, lower, upper = which * far + (levels - base), of * far + (lower - base), of * far + (upper - base)
    segment, line = spread(np.searchsorted(keys, lower), np.searchsorted(keys, upper))
    a, b = a[segment], b[segment]
    at = a[:, 0] + (b[:, 0] - a[:, 0]) * ((levels[line] - a[:, 1]) / (b[:, 1] - a[:, 1]))
    place = line if which is not None else of[segment] * len(levels) + line
    order = np.lexsort((at, place))
    place, at = place[order], at[order]
    if which is None:
        return place[0::2] // max(len(levels), 1), place[0::2] % max(len(levels), 1), at[0::2], at[1::2]
    depth = np.cumsum(np.where(b[:, 1] > a[:, 1], 1, -1)[order])
    end = depth == 0  # a line leaves a region where as many of its rings were met going up as going down
    start = np.concatenate([[True], end])[: len(end)]
    return which[place[start]], place[start], at[start], at[end]


def _segments(regions: list[BaseGeometry]) -> tuple[Array, Array, Array]:
    """Start and end of all edges of regions' rings, (k, 2) each, and the number of the region of each."""
    parts, region = shapely.get_parts(np.array(regions, dtype=object), return_index=True)
    rings, part = shapely.get_rings(parts, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    return points[:-1][same], points[1:][same], region[part[ring[:-1][same]]]


@dataclass(frozen=True)
class Turned:
    """A body of revolution. heights: (k,) above the tip's level, rising; radii: (k,) never shrinking; open upwards."""

    plane: Plane
    centre: tuple[float, float]
    tip: float
    heights: Array
    radii: Array
    top: float = np.inf

    def cuts(self, bundle: Bundle) -> Cuts:
        """The stretches of the bundle's rays inside it."""
        if self.plane.axis is None:
            slabs = [x for x in self._slabs() if x.top > x.bottom and not x.region.is_empty]
            ends = np.array([(x.bottom, x.top) for x in slabs]).reshape(-1, 2)
            return oblique(self.plane, [x.region for x in slabs], ends[:, 0], ends[:, 1], bundle)
        if self.plane.axis == bundle.axis:
            return self._along(bundle)
        return self._across(bundle)

    def _along(self, bundle: Bundle) -> Cuts:
        largest = float(self.radii[-1])
        ray = bundle.in_disc(np.array(self.centre), largest)
        off = np.hypot(bundle.u[ray] - self.centre[0], bundle.v[ray] - self.centre[1])
        radii, place = np.unique(self.radii, return_index=True)
        bottom = self.tip + np.interp(off, radii, self.heights[place])
        ends = np.sort([self.plane.sign * bottom, np.full(len(ray), self.plane.sign * self.top)], axis=0)
        low, high = np.maximum(ends[0], bundle.low - 1.0), np.minimum(ends[1], bundle.high + 1.0)
        keep = high > low
        return Cuts(ray[keep], low[keep], high[keep])

    def _across(self, bundle: Bundle) -> Cuts:
        axis = self.plane.axis or 0
        c = 3 - bundle.axis - axis
        if c == (axis + 1) % 3:
            centre, side = self.centre[1], self.centre[0]
        else:
            centre, side = self.centre
        rows, largest = bundle.rows(c), float(self.radii[-1])
        first, last = np.searchsorted(rows.levels, [side - largest, side + largest])
        ends = sorted((self.plane.sign * self.tip, self.plane.sign * self.top))
        ray, _ = rows.between(np.arange(first, last), ends[0], ends[1])
        own, level = (bundle.u, bundle.v) if c == (bundle.axis + 1) % 3 else (bundle.v, bundle.u)
        radius = np.interp(self.plane.sign * level[ray] - self.tip, self.heights, self.radii)
        half = np.sqrt(np.maximum(radius**2 - (own[ray] - side) ** 2, 0.0))
        keep = half > 0
        return Cuts(ray[keep], (centre - half)[keep], (centre + half)[keep])

    def _slabs(self) -> list[Slab]:
        """As a stack of discs, a step of the radius each; for directions that are no axis of the frame."""
        out = []
        centre = shapely.Point(self.centre)
        for k in range(len(self.heights) - 1):
            low, high = self.heights[k], self.heights[k + 1]
            if high <= low:
                continue
            steps = max(1, int(np.ceil(abs(self.radii[k + 1] - self.radii[k]) / STAIR)))
            for i in range(steps):
                radius = self.radii[k] + (self.radii[k + 1] - self.radii[k]) * (i + 0.5) / steps
                ends = self.tip + low + (high - low) * np.array([i, i + 1]) / steps
                out.append(Slab(self.plane, centre.buffer(radius, DISC), float(ends[0]), float(min(ends[1], self.top))))
        last = Slab(self.plane, centre.buffer(self.radii[-1], DISC), self.tip + float(self.heights[-1]), self.top)
        return [*out, last]


STAIR = 0.05
"""Mm of radius that one disc of a stack differs from the next: the stack lies within half of it."""
