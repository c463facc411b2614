"""Length and width of a removed region, along and across its longest straight side."""

from __future__ import annotations

from math import atan2, cos, hypot, pi, sin, tau

from shapely import MultiPoint

from recognizer import convex
from recognizer.bodies import Reading
from recognizer.convex import Ring
from recognizer.outline import Outline, Plane2, Point, Run
from recognizer.rule import Context
from recognizer.vector import dot
from shared.units import Vector

Arc = tuple[Point, float, float, int, float]
"""(centre, radius, angle of its start, 1 where it runs on anticlockwise or -1, angle that it turns), radians."""
PAST_END = 0.005
"""Radians past an arc's end that still count as on it."""


def extents(ctx: Context, outline: Outline, reading: Reading) -> tuple[float, float]:
    """(extent along, extent across) the longest straight side of a region, closed ones first; where it has none, the
    sides of its smallest rectangle.
    """
    if outline.is_empty:
        return 0.0, 0.0
    arcs = _arcs(ctx, reading, Plane2(outline.d))
    hull = outline.hull
    sizes = [_along(hull, arcs, t) for t in _main_ways(ctx, outline, reading, arcs)]
    return max(sizes, key=lambda s: (round(s[0], 4), -round(s[1], 4)))


def _along(hull: Ring, arcs: list[Arc], t: Point) -> tuple[float, float]:
    """Extents along and across a unit vector."""
    coords = hull + _arc_extremes(arcs, t)
    along = [q[0] * t[0] + q[1] * t[1] for q in coords]
    across = [q[1] * t[0] - q[0] * t[1] for q in coords]
    return max(along) - min(along), max(across) - min(across)


def _main_ways(ctx: Context, outline: Outline, reading: Reading, arcs: list[Arc]) -> list[Point]:
    """Unit vectors along a region's longest straight sides: one, or several where sides are equally long."""
    straight = [r for r in outline.runs if r.radius is None and not r.corner and _is_straight(r)]
    sides = [r for r in straight if not r.open] or straight
    if sides:
        longest = max(round(r.length, 4) for r in sides)
        found: list[Point] = []
        for t in (_way(ctx, r, outline.d) for r in sides if round(r.length, 4) >= longest - 1e-3):
            if all(abs(t[0] * s[0] + t[1] * s[1]) < 1 - 1e-9 for s in found):
                found.append(t)
        return found
    corners = list(outline.hull)
    for turn in range(0, 90, 2) if reading.walls else ():
        # arcs bulge past their chords, so the smallest rectangle is sought over both
        corners += _arc_extremes(arcs, (cos(turn * pi / 180), sin(turn * pi / 180)))
    box_around = MultiPoint(convex.hull(corners) or corners).minimum_rotated_rectangle
    if box_around.geom_type != "Polygon":
        return [(1.0, 0.0)]
    ring = list(box_around.exterior.coords)
    a, b = max(zip(ring, ring[1:], strict=False), key=lambda s: round(hypot(s[1][0] - s[0][0], s[1][1] - s[0][1]), 6))
    return [unit2(a, b)]


def _way(ctx: Context, run: Run, d: Vector) -> Point:
    """Unit vector along a straight side: of a plane wall its own, as where it meets an arc its end may lie a bit off."""
    surface = ctx.faces[run.faces[0]].surface if run.faces else None
    if surface is None or surface.kind != "plane":
        return unit2(run.points[0], run.points[-1])
    (nx, ny), (tx, ty) = Plane2(d).at(surface.axis), unit2(run.points[0], run.points[-1])
    size = hypot(nx, ny) * (1 if nx * ty < ny * tx else -1)
    return (ny / size, -nx / size) if size else (tx, ty)


def unit2(a: Point, b: Point) -> Point:
    """Unit vector from a to b; zero where they are one."""
    size = hypot(b[0] - a[0], b[1] - a[1]) or 1.0
    return ((b[0] - a[0]) / size, (b[1] - a[1]) / size)


def _is_straight(run: Run) -> bool:
    """All points of a run on the line through its ends."""
    a, b = run.points[0], run.points[-1]
    (tx, ty), size = unit2(a, b), hypot(b[0] - a[0], b[1] - a[1])
    return size > 1e-6 and all(abs((q[1] - a[1]) * tx - (q[0] - a[0]) * ty) < 1e-4 * size for q in run.points)


def _arcs(ctx: Context, reading: Reading, plane: Plane2) -> list[Arc]:
    """Arcs of a body's edges that lie square to the direction."""
    own = {*reading.floors, *reading.walls, *reading.leans}
    edges = sorted({k for f in own for k in ctx.snapshot.face_edges[f]})
    found = []
    for e in (ctx.snapshot.edges[k] for k in edges):
        if not own.issuperset(e.faces) and any(f in ctx.taken_floors for f in own.intersection(e.faces)):
            continue  # the foot of another feature's wall
        if e.curve != "circle" or e.centre is None or e.axis is None or abs(dot(e.axis, plane.d)) < 1 - 1e-6:
            continue
        c, p, q = plane.at(e.centre), plane.at(e.points[0]), plane.at(e.points[1])
        way = 1 if (p[0] - c[0]) * (q[1] - c[1]) > (p[1] - c[1]) * (q[0] - c[0]) else -1
        found.append((c, e.radius, atan2(p[1] - c[1], p[0] - c[0]), way, e.length / e.radius))
    return found


def _arc_extremes(arcs: list[Arc], t: Point) -> list[Point]:
    """Points of arcs that lie farthest along or across t: between the chords' corners of their polylines."""
    out = []
    for c, r, start, way, sweep in arcs:
        for n in (t, (-t[0], -t[1]), (t[1], -t[0]), (-t[1], t[0])):
            turned = (way * (atan2(n[1], n[0]) - start) + PAST_END) % tau
            if turned < sweep + 2 * PAST_END:
                out.append((c[0] + n[0] * r, c[1] + n[1] * r))
    return out
