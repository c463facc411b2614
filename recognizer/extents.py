"""Length and width of a removed region, along and across its longest straight side."""

from __future__ import annotations

from math import cos, hypot, pi, sin

import shapely
from shapely import MultiPoint, Polygon, unary_union
from shapely.geometry import LineString

from recognizer.bodies import Reading
from recognizer.outline import Outline, Plane2, Point, Run
from recognizer.rule import Context
from recognizer.vector import dot


def extents(ctx: Context, outline: Outline, reading: Reading) -> tuple[float, float]:
    """(extent along, extent across) the longest straight side of a region, closed ones first; where it has none, the
    sides of its smallest rectangle.
    """
    if outline.is_empty:
        return 0.0, 0.0
    plane = Plane2(outline.d)
    sizes = [_along(ctx, outline, reading, plane, t) for t in _main_ways(ctx, outline, reading, plane)]
    return max(sizes, key=lambda s: (round(s[0], 4), -round(s[1], 4)))


def _along(ctx: Context, outline: Outline, reading: Reading, plane: Plane2, t: Point) -> tuple[float, float]:
    """Extents along and across a unit vector."""
    coords = outline.hull + _arc_extremes(ctx, reading, plane, t)
    along = [q[0] * t[0] + q[1] * t[1] for q in coords]
    across = [q[1] * t[0] - q[0] * t[1] for q in coords]
    return max(along) - min(along), max(across) - min(across)


def _main_ways(ctx: Context, outline: Outline, reading: Reading, plane: Plane2) -> list[Point]:
    """Unit vectors along a region's longest straight sides: one, or several where sides are equally long."""
    straight = [r for r in outline.runs if r.radius is None and not r.corner and _is_straight(r)]
    sides = [r for r in straight if not r.open] or straight
    if sides:
        longest = max(round(r.length, 4) for r in sides)
        found: list[Point] = []
        for t in (unit2(r.points[0], r.points[-1]) for r in sides if round(r.length, 4) >= longest - 1e-3):
            if all(abs(t[0] * s[0] + t[1] * s[1]) < 1 - 1e-9 for s in found):
                found.append(t)
        return found
    ways = [outline.region]
    for turn in range(0, 90, 2):  # arcs bulge past their chords, so the smallest rectangle is sought over both
        t = (cos(turn * pi / 180), sin(turn * pi / 180))
        ways.append(MultiPoint(_arc_extremes(ctx, reading, plane, t)) if reading.walls else Polygon())
    around = unary_union([w.convex_hull for w in ways if not w.is_empty]).convex_hull
    box_around = around.minimum_rotated_rectangle
    if box_around.geom_type != "Polygon":
        return [(1.0, 0.0)]
    ring = list(box_around.exterior.coords)
    a, b = max(zip(ring, ring[1:], strict=False), key=lambda s: round(hypot(s[1][0] - s[0][0], s[1][1] - s[0][1]), 6))
    return [unit2(a, b)]


def unit2(a: Point, b: Point) -> Point:
    """Unit vector from a to b; zero where they are one."""
    size = hypot(b[0] - a[0], b[1] - a[1]) or 1.0
    return ((b[0] - a[0]) / size, (b[1] - a[1]) / size)


def _is_straight(run: Run) -> bool:
    """All points of a run on the line through its ends."""
    a, b = run.points[0], run.points[-1]
    (tx, ty), size = unit2(a, b), hypot(b[0] - a[0], b[1] - a[1])
    return size > 1e-6 and all(abs((q[1] - a[1]) * tx - (q[0] - a[0]) * ty) < 1e-4 * size for q in run.points)


def _arc_extremes(ctx: Context, reading: Reading, plane: Plane2, t: Point) -> list[Point]:
    """Points of a body's arcs that lie farthest along or across t: between the chords' corners of their polylines."""
    out = []
    for f in reading.floors + reading.walls + reading.leans:
        for k in ctx.snapshot.face_edges[f]:
            e = ctx.snapshot.edges[k]
            if e.curve != "circle" or e.centre is None or e.axis is None or abs(dot(e.axis, plane.d)) < 1 - 1e-6:
                continue
            c, chain = plane.at(e.centre), LineString([plane.at(p) for p in e.points])
            for n in (t, (-t[0], -t[1]), (t[1], -t[0]), (-t[1], t[0])):
                q = (c[0] + n[0] * e.radius, c[1] + n[1] * e.radius)
                if chain.distance(shapely.Point(q)) < 0.005 * e.radius:
                    out.append(q)
    return out
