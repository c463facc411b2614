"""What stands higher beside a flat face or a boss: the largest cutter that passes between them.

Pockets and slots have walls of their own, and gaps.py measures between those. A flat face and a boss are open all
round, but a cutter that reaches past their rim may meet what stands beside them.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon, STRtree, unary_union
from shapely.geometry.base import BaseGeometry

from recognizer.gaps import rounded
from recognizer.outline import Plane2, edge_lines, face_polygon
from recognizer.rule import Context
from recognizer.tilts import FLAT, tilt
from recognizer.vector import dot
from shared.units import Vector

WIDEST = 200.0
"""Mm: no cutter is wider, so room for it is room for any."""
REACHES = (10.0, 50.0, WIDEST)
"""Mm round a region that is searched for its neighbours, one after the other."""
COARSE = 1.0
"""Mm by which the chords of arcs may make a gap too wide, at most; nearest pieces are measured again with fine ones."""
SAG = 5e-4
RIM = 0.01
"""Mm by which lines are widened so that those that differ by rounding close a ring."""
SMALL = 0.02
"""Share of a region that one of its corners is at most."""
STEPS = 12
"""Halvings of the search: to a twentieth of a millimetre."""


def passing_boss(ctx: Context, faces: frozenset[int], d: Vector, low: float) -> float | None:
    """Diameter in mm of the largest cutter that goes all round a boss whose foot is at `low`; None for any.

    faces: the boss's walls. Material that touches it is a part of it, or it would be no boss.
    """
    rims = edge_lines(ctx, faces, Plane2(d)).buffer(RIM)
    foot = unary_union([Polygon(p.exterior) for p in _polygons(rims)]).buffer(-RIM)
    return _gap(ctx, foot, d, low, ctx.tol.length_mm)


def covering_flat(ctx: Context, region: BaseGeometry, d: Vector, level: float) -> float | None:
    """Diameter in mm of the largest cutter that covers all of a flat region and meets nothing higher; None for any.

    It passes between what stands on the region, too. The part of the region that a disc of that size cannot cover is smaller than what it leaves in its own corners.
    """
    around = standing(ctx, d, level)
    gap = _gap(ctx, region, d, level, -1.0)
    if gap is None or gap >= _width(region):  # with its centre over the region it reaches no farther than its radius
        return None if gap is None else 2 * gap
    box = shapely.box(*region.bounds).buffer(2 * WIDEST)
    room = region.buffer(WIDEST, quad_segs=4).difference(around.intersection(box))
    if _covers(room, region, WIDEST / 2):
        return None
    low, high = gap, WIDEST / 2
    for _ in range(STEPS):
        middle = (low + high) / 2
        low, high = (middle, high) if _covers(room, region, middle) else (low, middle)
    return 2 * low or None


def _gap(ctx: Context, region: BaseGeometry, d: Vector, level: float, touching: float) -> float | None:
    """Distance in mm to the nearest higher piece farther away than `touching`; None beyond the widest cutter."""
    pieces = shapely.get_parts(standing(ctx, d, level))
    if not len(pieces):
        return None
    near = STRtree(pieces)
    for reach in REACHES:
        found = pieces[near.query(region, predicate="dwithin", distance=reach)]
        gaps = shapely.distance(region, found)
        found, gaps = found[gaps > touching], gaps[gaps > touching]
        if len(gaps) and gaps.min() > 0:
            close = found[gaps < gaps.min() + COARSE]
            own, others = (_fine(ctx, unary_union(list(g)), d) for g in ([region], close))
            return float(shapely.distance(own, others))
        if len(gaps):
            return 0.0
    return None


def _fine(ctx: Context, shape: BaseGeometry, d: Vector) -> BaseGeometry:
    """A shape with its arcs in short chords."""
    plane, (x0, y0, x1, y1) = Plane2(d), shape.bounds
    circles = set()
    for e in ctx.snapshot.edges:
        if e.curve == "circle" and e.centre and e.axis and abs(dot(e.axis, d)) > 1 - 1e-6:
            x, y = plane.at(e.centre)
            if x0 < x + e.radius and x - e.radius < x1 and y0 < y + e.radius and y - e.radius < y1:
                circles.add(((round(x, 4), round(y, 4)), round(e.radius, 4)))
    return unary_union([rounded(p, sorted(circles), SAG) for p in _polygons(shape)])


def _width(region: BaseGeometry) -> float:
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(region))[:3]
    return float(min(np.hypot(*np.diff(corners, axis=0).T)))


def _covers(room: BaseGeometry, region: BaseGeometry, r: float) -> bool:
    """Whether a disc of radius r covers each piece of a region without being lifted on the way."""
    ways = _polygons(room.buffer(-r, quad_segs=8))
    return all(any(_covered(piece, way, r) for way in ways if way.distance(piece) < r) for piece in _polygons(region))


def _covered(piece: Polygon, way: Polygon, r: float) -> bool:
    corner = min(0.75 * r * r, SMALL * piece.area)
    left = piece.difference(way.buffer(1.0005 * r, quad_segs=16))
    return all(p.area < corner and not _across(p, r) for p in _polygons(left))


def _across(piece: Polygon, r: float) -> bool:
    """Whether a piece is longer than a corner: a strip along a wall."""
    return bool(shapely.minimum_bounding_radius(piece) > 1.5 * r)


def standing(ctx: Context, d: Vector, level: float) -> BaseGeometry:
    """What rises above a level, seen along d; kept with the context.

    On top of every piece of it lies a face that looks along d.
    """
    level += 4 * ctx.tol.length_mm
    key = (tuple(round(c, 6) for c in d), round(level, 4))
    if key not in ctx.standing:
        highs, plane = ctx.snapshot.levels(d)[1], Plane2(d)
        high = [f.index for f in ctx.faces if highs[f.index] > level]
        ctx.standing[key] = unary_union([_above(ctx, f, plane, level) for f in high if tilt(ctx, f, d)[1] > 10 * FLAT])
    return ctx.standing[key]


def _above(ctx: Context, face: int, plane: Plane2, level: float) -> BaseGeometry:
    """Projection of the part of a face above a level: of curved faces, of all facets that reach above it."""
    whole = face_polygon(ctx, face, plane)
    if ctx.extent(face, plane.d)[0] >= level:
        return whole
    s = ctx.faces[face].surface
    if s.kind != "plane":
        corners = ctx.snapshot.facet_arrays[face]
        seen = corners[(corners @ plane.d).max(axis=1) > level] @ [*zip(plane.u, plane.v, strict=True)]
        return unary_union(shapely.polygons(seen)) if len(seen) else Polygon()
    # On the plane p . axis = offset the level of (u, v) is linear: keep the half-plane in which it is high enough.
    up = dot(s.axis, plane.d)
    a, b = -dot(s.axis, plane.u) / up, -dot(s.axis, plane.v) / up
    if max(abs(a), abs(b)) < FLAT:  # square to d, and yet not at one level: its rim lies off it, as in sloppy files
        return whole
    return whole.intersection(_half_plane(a, b, level - s.offset / up, whole))


def _half_plane(a: float, b: float, c: float, over: BaseGeometry) -> Polygon:
    """Where a u + b v > c, as a square that is large enough over a region."""
    size = (a * a + b * b) ** 0.5
    n, t = (a / size, b / size), (-b / size, a / size)
    x0, y0, x1, y1 = over.bounds
    far = 2 * (abs(x0) + abs(x1) + abs(y0) + abs(y1) + abs(c / size) + 1.0)
    foot = (n[0] * c / size, n[1] * c / size)
    corners = [(-far, 0.0), (far, 0.0), (far, far), (-far, far)]
    return Polygon([(foot[0] + x * t[0] + y * n[0], foot[1] + x * t[1] + y * n[1]) for x, y in corners])


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    return [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon" and p.area > 0]
