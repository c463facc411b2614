"""How much of an operation's way at feed meets material: the rest of it is cut in air.

Places are taken along the way of the cutter's centre: round the region of its centres, and in rings a step apart within
it, at each of the operation's levels. A place meets material where something that the operation took lies under the
cutter there, at that level.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from planner.proof.cutter import profile_of
from planner.proof.cutting import Done
from planner.proof.fields import HeightField
from planner.proof.plane import Plane
from planner.proof.rays import Array, Bundle

PLACES = 120
"""Places along a stroke's way, in all its rings."""
RINGS = 6
"""Rings of a way, at most."""
LEVELS = 8
"""Levels of an operation that are looked at, at most; spread evenly."""
POINTS = 6000
"""Points of what was taken that are compared, at most."""
SQUARES, MOST_SQUARES = 6, 1_000_000
"""Squares in a cutter's reach in which places and points are compared, and in all."""
LONG = 16
"""Points along one ray's stretch, at most."""
STRAIGHT_DOWN = ("drilling", "multistep_drilling", "center_drilling", "counter_sinking", "reaming", "boring", "tapping")


def share_in_material(done: Done, bundles: list[Bundle], plane: Plane) -> float | None:
    """Share of the way that meets material, 0 to 1; None where no way is known: straight down, along surfaces or edges.

    A plan that says a shorter way than round all of the region keeps to where something stands, as rest cuts do in
    corners: the way that meets material is then a share of the way that it says.
    """
    op = done.operation
    strokes = [s for s in done.strokes if s.sweeps and not s.centres.is_empty]
    followed = any(isinstance(x, HeightField) for s in strokes for x in s.sweeps)
    if not strokes or followed or op.kind in STRAIGHT_DOWN or (op.edges and not op.features):
        return None
    flat, low, high = _taken(done, bundles, plane)
    if not len(flat):
        return 0.0
    profile, passes = profile_of(op.tool), op.passes
    reach = profile.radius + bundles[0].cell ** 0.5
    count = max(1, passes.axial_count)
    chosen = np.unique(np.linspace(0, count - 1, min(count, LEVELS)).round().astype(int))
    hits = total = 0
    lines = [_way(s.centres, passes.radial_depth, passes.radial_count) for s in strokes]
    length = count * sum(line.length for way in lines for line in way)
    for stroke, way in zip(strokes, lines, strict=True):
        places = _places(way)
        for k in chosen:
            tip = stroke.tip + float(k) * passes.axial_depth
            top = math.inf if k == count - 1 else tip + passes.axial_depth
            here = (high > tip - 1e-3) & (low < top)
            total += len(places)
            hits += int(_near(places, flat[here], reach).sum()) if here.any() else 0
    return hits / total * max(1.0, length / op.path_length if op.path_length > 0.0 else 1.0)


def _near(places: Array, points: Array, reach: float) -> Array:
    """(k,) whether a point lies within `reach` of each of some places (k, 2), in squares of a part of it."""
    step = reach / SQUARES
    low, high = places.min(axis=0) - reach - step, places.max(axis=0) + reach + 2.0 * step
    points = points[((points > low) & (points < high)).all(axis=1)]
    size = np.ceil((high - low) / step).astype(int) + 1
    if size.prod() > MOST_SQUARES:  # a fine cutter on a large part: the tree takes less room
        at, _ = shapely.STRtree(shapely.points(points)).query_nearest(
            shapely.points(places), max_distance=reach, all_matches=False
        )
        return np.isin(np.arange(len(places)), at)
    there = np.zeros(size, dtype=np.int32)
    there[tuple(((points - low) / step).astype(int).T)] = 1
    sums = np.cumsum(there, axis=1)
    i, j = ((places - low) / step).astype(int).T
    out = np.zeros(len(places), dtype=bool)
    for off in range(-SQUARES, SQUARES + 1):
        half = int(math.sqrt((SQUARES + 0.5) ** 2 - off**2))
        out |= sums[i + off, j + half] > sums[i + off, j - half - 1]
    return out


def _taken(done: Done, bundles: list[Bundle], plane: Plane) -> tuple[Array, Array, Array]:
    """What an operation took: points across its direction, and from which level to which each stands for it."""
    counts = [
        np.ones(len(t.ray), dtype=np.int64)
        if plane.axis == bundle.axis
        else np.clip(np.ceil(t.length / bundle.cell**0.5), 1, LONG).astype(np.int64)
        for bundle, t in zip(bundles, done.taken, strict=True)
    ]
    sums = [int(c.sum()) for c in counts]
    step = max(1, sum(sums) // POINTS)
    points, low, high = [], [], []
    for bundle, taken, count, before in zip(bundles, done.taken, counts, np.cumsum([0, *sums]), strict=False):
        chosen = np.arange(-int(before) % step, int(count.sum()), step)
        last = np.cumsum(count)
        which = np.searchsorted(last, chosen, side="right")
        place = chosen - (last - count)[which]
        own = taken.take(which)
        at = own.low + own.length * (place + 0.5) / count[which]
        points.append(plane.flat(bundle.points(own.ray, at)))
        ends = (own.low, own.high) if plane.axis == bundle.axis else (at, at)
        levels = np.sort([bundle.levels(own.ray, e, plane.d) for e in ends], axis=0)
        low.append(levels[0])
        high.append(levels[1])
    return np.vstack(points), np.concatenate(low), np.concatenate(high)


def _way(centres: BaseGeometry, step: float, rings: int) -> list[BaseGeometry]:
    """Lines, the rims of regions, and rings a step apart within these; points stay points."""
    out: list[BaseGeometry] = []
    for part in shapely.get_parts(centres):
        if part.geom_type != "Polygon":
            out.append(part)
            continue
        for k in range(min(max(rings, 1), RINGS)):
            inner = part.buffer(-k * step) if k else part
            out += [ring for p in shapely.get_parts(inner) for ring in shapely.get_rings(p)]
    return out


def _places(way: list[BaseGeometry]) -> Array:
    """Places (k, 2) along a way, evenly."""
    length = max(sum(line.length for line in way), 1e-9)
    out = []
    for line in way:
        count = max(1, round(PLACES * line.length / length))
        at = (np.arange(count) + 0.5) / count
        point = line.geom_type == "Point"
        out.append(
            shapely.get_coordinates(line if point else shapely.line_interpolate_point(line, at, normalized=True))
        )
    return np.vstack(out)
