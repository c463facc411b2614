"""Outline of a body that is not convex: its floors and leaning faces seen along d, foreign inner holes filled."""

from __future__ import annotations

from math import hypot

from shapely import MultiPoint, Point, Polygon, unary_union
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from recognizer.bodies import Reading
from recognizer.outline import Outline, Plane2, Run, append_side, closed_ring, face_polygon, gap2, points2
from recognizer.rule import Context
from recognizer.slopes import Slopes
from recognizer.snapshot import Edge
from recognizer.tilts import FLAT, tilt
from recognizer.vector import dot
from recognizer.wall_lines import enclosed
from shared.units import Vector

RING_SPAN_DEG = 240.0
"""Of a ring groove's walls this much at least is left where other cuts cross it."""

SAG = 0.025
"""Of a chord's length lies its middle off an arc of ten degrees, and a little more."""
RISEN_SHARE = 0.9
"""Of a hole's rim something rises there: on a slope that a deeper cut opens on, half of the rim lies uphill."""
SLIVER_SHARE = 0.05
"""A hole this small beside an island's largest one lies between chords."""


def traced_outline(ctx: Context, reading: Reading) -> Outline:
    """Outline of a body that is not convex: its floors and leaning faces seen along d, foreign inner holes filled."""
    plane = Plane2(reading.d)
    own = set(reading.floors + reading.walls + reading.leans)
    parts = [_own_floor(ctx, f, own, plane) for f in reading.floors + reading.leans]
    ground = unary_union([p for p in parts if not p.is_empty]).buffer(0)
    if any(ctx.faces[f].kind != "plane" for f in reading.leans):
        ground = _whole(ground, 2 * ctx.tol.length_mm)
    if ground.is_empty:
        ground = between_walls(ctx, reading, plane)
    elif hasattr(ground, "geoms"):
        ring = _cut_ring(ctx, reading, plane)
        if ring is not None:
            return Outline(reading.d, ring, _traced_runs(ctx, ring, reading, plane))
    islands = _island_rings(ctx, own, reading, plane)
    pieces = list(ground.geoms) if hasattr(ground, "geoms") else [ground]
    islands += _risen_rings(ctx, pieces, reading, plane)
    filled = unary_union([_filled(p, islands) for p in pieces if p.area > 1e-9])
    return Outline(reading.d, filled, _traced_runs(ctx, filled, reading, plane))


def _own_floor(ctx: Context, face: int, own: set[int], plane: Plane2) -> BaseGeometry:
    """A face seen along d; of a floor that another feature owns, what lies between the walls."""
    shape = face_polygon(ctx, face, plane)
    if not ctx.taken_floors.get(face, own).isdisjoint(own):
        return shape
    return shape.intersection(MultiPoint(points2(ctx, own - {face}, plane)).convex_hull)


def _whole(ground: BaseGeometry, crack: float) -> BaseGeometry:
    """Ground without the cracks, mm wide, that facets leave between faces that share an edge."""
    return ground.buffer(crack, join_style="mitre").buffer(-crack, join_style="mitre")


def _cut_ring(ctx: Context, reading: Reading, plane: Plane2) -> BaseGeometry | None:
    """Region of a ring groove that another cut crosses: its outer and inner walls still tell its circles."""
    circles: dict[bool, BaseGeometry] = {}
    centres = []
    for f in reading.walls:
        s = ctx.faces[f].surface
        turn = sum(ctx.faces[g].span for g in ctx.graph.members[ctx.graph.group[f]] if g in reading.walls)
        if s.kind != "cylinder" or turn < RING_SPAN_DEG:
            return None
        centres.append(plane.at(s.origin))
        circles[s.hollow] = Point(centres[-1]).buffer(s.radius, quad_segs=18)
    if len(circles) < 2 or any(gap2(c, centres[0]) > 4 * ctx.tol.length_mm for c in centres):
        return None
    return circles[True].difference(circles[False])


def between_walls(ctx: Context, reading: Reading, plane: Plane2) -> BaseGeometry:
    """Region inside a ring of upright walls that has no floor; of walls that shut nothing their hull."""
    found = enclosed(ctx, reading.walls, plane)
    return MultiPoint(points2(ctx, reading.walls, plane)).convex_hull if found is None else found


def _island_rings(ctx: Context, own: set[int], reading: Reading, plane: Plane2) -> list[BaseGeometry]:
    """Polygons of inner loops at which a wall rises: islands, not deeper cuts."""
    rings = []
    for f in reading.floors + reading.leans:
        for k, loop in enumerate(ctx.faces[f].loops):
            if k == 0:
                continue
            rim = {e for e, _ in loop}
            if any(e in rim and sign in ("concave", "smooth") for _, e, sign in ctx.graph.links(f)):
                ring = [plane.at(p) for p in ctx.snapshot.loop_points(f, k)]
                if len(ring) > 2:
                    rings.append(Polygon(ring).buffer(0))
    return rings


def _risen_rings(ctx: Context, pieces: list[BaseGeometry], reading: Reading, plane: Plane2) -> list[BaseGeometry]:
    """Holes of the ground round which leaning faces rise: the middle of a vee or a round ring groove."""
    if not reading.leans:
        return []
    slopes = Slopes(ctx, frozenset(reading.leans), plane)
    lines = [(f, _wall_line(ctx, f, plane)) for f in reading.leans]
    found = []
    for ring in (ring for p in pieces for ring in getattr(p, "interiors", ())):
        points = list(ring.coords) if ring.is_ccw else list(ring.coords)[::-1]  # the hole lies to their left
        risen = 0.0
        for a, b in zip(points, points[1:], strict=False):
            middle = LineString([a, b]).interpolate(0.5, normalized=True)
            near = [f for f, line in lines if line.distance(middle) < 6 * ctx.tol.length_mm + SAG * gap2(a, b)]
            risen += gap2(a, b) if any(slopes.rises(f, a, b) for f in near) else 0.0
        if risen > RISEN_SHARE * ring.length:
            found.append(Polygon(ring))
    return found


def _filled(polygon: Polygon, islands: list[BaseGeometry]) -> BaseGeometry:
    """Polygon without its inner rings, but for those that hold an island.

    Slivers between the chords of two faces that meet in an arc, at an island's foot, are next to nothing beside it.
    """
    outer = Polygon(polygon.exterior)
    holes = [Polygon(ring) for ring in polygon.interiors]
    for island in islands:
        own = [h for h in holes if h.intersection(island).area > 0.5 * min(h.area, island.area)]
        largest = max((h.area for h in own), default=0.0)
        outer = outer.difference(unary_union([h for h in own if h.area > SLIVER_SHARE * largest]))
    return outer


def _traced_runs(ctx: Context, region: BaseGeometry, reading: Reading, plane: Plane2) -> list[Run]:
    if region.is_empty:
        return []
    polygon = region if region.geom_type == "Polygon" else max(region.geoms, key=lambda g: g.area)
    walls = [(f, _wall_line(ctx, f, plane)) for f in reading.walls + reading.leans]
    rises = Slopes(ctx, frozenset(reading.leans), plane).rises
    rounds = _foreign_rounds(ctx, reading)
    foreign = [(f, _wall_line(ctx, f, plane)) for f in rounds]
    eps = 6 * ctx.tol.length_mm
    runs: list[Run] = []
    ring = list(polygon.exterior.coords)
    for a, b in zip(ring, ring[1:], strict=False):
        if hypot(b[0] - a[0], b[1] - a[1]) < 1e-7:
            continue
        middle = LineString([a, b]).interpolate(0.5, normalized=True)
        sag = SAG * hypot(b[0] - a[0], b[1] - a[1])
        faces = [f for f, line in walls if line.distance(middle) < eps + sag and rises(f, a, b)]
        faces.sort(key=lambda f: (f in reading.leans, f in reading.blends, f))  # the wall, not the radius at its foot
        faces = faces or sorted(f for f, line in foreign if line.distance(middle) < eps + sag)
        append_side(ctx, runs, (a, b), faces[:1], reading)
    for run in runs:
        run.corner = run.corner or any(f in rounds for f in run.faces)
    return closed_ring(ctx, runs)


def _foreign_rounds(ctx: Context, reading: Reading) -> list[int]:
    """What rises from the floor and is another feature's, so that no side is open there: rounds of the walls, rib tops."""
    own = set(reading.floors + reading.walls + reading.leans)
    beside = {n for f in reading.floors for n, _, sign in ctx.graph.links(f) if sign == "concave" and n not in own}
    return sorted(f for f in beside if _rises(ctx, f, reading.d))


def _rises(ctx: Context, face: int, d: Vector) -> bool:
    """An upright round, or a plane that leans away from the floor: a rib's top."""
    if ctx.faces[face].kind == "plane":
        return 10 * FLAT < tilt(ctx, face, d)[0] < 1 - FLAT
    return ctx.faces[face].kind == "cylinder" and tilt(ctx, face, d) == (0.0, 0.0)


def _wall_line(ctx: Context, face: int, plane: Plane2) -> BaseGeometry:
    lines = []
    for e in ctx.snapshot.face_edges[face]:
        pts = [plane.at(p) for p in ctx.snapshot.edges[e].points]
        if LineString(pts).length > 1e-9:
            lines.append(LineString(_finer(ctx.snapshot.edges[e], pts, plane)))
    return unary_union(lines) if lines else LineString()


def _finer(edge: Edge, points: list[Point], plane: Plane2) -> list[Point]:
    """Projected points of an edge; of a circle across the direction with chords a quarter as long."""
    if edge.curve != "circle" or not edge.axis or not edge.centre or abs(dot(edge.axis, plane.d)) < 1 - 1e-6:
        return points
    (cx, cy), out = plane.at(edge.centre), [points[0]]
    for a, b in zip(points, points[1:], strict=False):
        for k in (1, 2, 3):
            x, y = a[0] + (b[0] - a[0]) * k / 4 - cx, a[1] + (b[1] - a[1]) * k / 4 - cy
            size = hypot(x, y) or 1.0
            out.append((cx + x * edge.radius / size, cy + y * edge.radius / size))
        out.append(b)
    return out
