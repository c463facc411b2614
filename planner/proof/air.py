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
from planner.proof.plane import Plane
from planner.proof.rays import Array, Bundle, spread
from planner.proof.strokes.surfaces import HeightField

PLACES = 120
"""Places along a stroke's way, in all its rings."""
RINGS = 6
"""Rings of a way, at most."""
LEVELS = 8
"""Levels of an operation that are looked at, at most; spread evenly."""
POINTS = 6000
"""Points of what was taken that are compared, at most."""
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
        places = shapely.points(_places(way))
        for k in chosen:
            tip = stroke.tip + float(k) * passes.axial_depth
            top = math.inf if k == count - 1 else tip + passes.axial_depth
            here = (high > tip - 1e-3) & (low < top)
            total += len(places)
            if here.any():
                tree = shapely.STRtree(flat[here])  # the nearest is enough: under a large cutter lie thousands
                hits += len(tree.query_nearest(places, max_distance=reach, all_matches=False)[0])
    return hits / total * max(1.0, length / op.path_length if op.path_length > 0.0 else 1.0)


def _taken(done: Done, bundles: list[Bundle], plane: Plane) -> tuple[Array, Array, Array]:
    """What an operation took: points across its direction, and from which level to which each stands for it."""
    points, low, high = [], [], []
    for bundle, taken in zip(bundles, done.taken, strict=True):
        if plane.axis == bundle.axis:
            ends = np.sort([bundle.levels(taken.ray, e, plane.d) for e in (taken.low, taken.high)], axis=0)
            points.append(plane.flat(bundle.points(taken.ray, taken.middle)))
            low.append(ends[0])
            high.append(ends[1])
            continue
        count = np.clip(np.ceil(taken.length / bundle.cell**0.5), 1, LONG).astype(int)
        which, place = spread(np.zeros(len(count), dtype=int), count)
        at = taken.low[which] + taken.length[which] * (place + 0.5) / count[which]
        there = bundle.points(taken.ray[which], at)
        points.append(plane.flat(there))
        low.append(there @ plane.d)
        high.append(low[-1])
    flat, lows, highs = np.vstack(points), np.concatenate(low), np.concatenate(high)
    step = max(1, len(flat) // POINTS)
    return shapely.points(flat[::step]), lows[::step], highs[::step]


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
