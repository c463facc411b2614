"""The removed region of a body seen along a direction: its outline, its closed and open sides, its widths.

All 2-D work happens in the plane across d, with coordinates (p . u, p . v) from `plane_axes(d)`; shapely does the
polygon arithmetic.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from math import atan2, ceil, cos, degrees, hypot, pi, sin, sqrt, tau

import numpy as np
import shapely
from shapely import MultiPoint, Polygon, box, make_valid, unary_union
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from recognizer.bodies import Reading
from recognizer.rule import Context
from recognizer.snapshot import plane_axes
from recognizer.tilts import tilt
from recognizer.vector import dot
from shared.units import Vector

Point = tuple[float, float]


@dataclass
class Run:
    """One side of an outline: a stretch of its boundary on one wall, or open."""

    points: list[Point]
    faces: list[int] = field(default_factory=list)
    radius: float | None = None
    corner: bool = False
    centre: Point | None = None
    """Of an upright cylinder's arc."""

    @property
    def open(self) -> bool:
        """No wall rises on this side."""
        return not self.faces

    @property
    def length(self) -> float:
        """Length along the outline, mm: of an upright cylinder's arc its radius times the angle that it turns."""
        if self.centre is not None and self.radius:
            turns = zip(self.points, self.points[1:], strict=False)
            return self.radius * sum(_swept(self.centre, a, b) for a, b in turns)
        return sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in zip(self.points, self.points[1:], strict=False))


def _swept(centre: Point, a: Point, b: Point) -> float:
    """Angle from a to b seen from a centre, radians, at most half a turn."""
    turn = atan2(b[1] - centre[1], b[0] - centre[0]) - atan2(a[1] - centre[1], a[0] - centre[0])
    return abs((turn + pi) % tau - pi)


@dataclass
class Outline:
    """Region (polygon across d) and its sides in order round the outer ring."""

    d: Vector
    region: BaseGeometry
    runs: list[Run]

    @property
    def closed(self) -> list[Run]:
        """Walls, without corner radii."""
        return [r for r in self.runs if not r.open and not r.corner]

    @property
    def opens(self) -> list[Run]:
        """Open sides."""
        return [r for r in self.runs if r.open]


class Plane2:
    """Coordinates across a direction."""

    def __init__(self, d: Vector) -> None:
        self.d = d
        self.u, self.v = plane_axes(d)

    def at(self, p: Vector) -> Point:
        """2-D coordinates of a point."""
        u, v = self.u, self.v  # written out: it is called for every point of every outline
        return (p[0] * u[0] + p[1] * u[1] + p[2] * u[2], p[0] * v[0] + p[1] * v[1] + p[2] * v[2])

    def back(self, q: Point, level: float) -> Vector:
        """The point with these coordinates at a level along d."""
        u, v, d = self.u, self.v, self.d
        return tuple(q[0] * u[k] + q[1] * v[k] + level * d[k] for k in range(3))  # type: ignore[return-value]


def face_polygon(ctx: Context, face: int, plane: Plane2) -> BaseGeometry:
    """Projection of a plane face across d, or of a curved face as the union of its facets."""
    f = ctx.faces[face]
    if f.kind == "plane":
        rings = [[plane.at(p) for p in ctx.snapshot.loop_points(face, k)] for k in range(len(f.loops))]
        rings = [r for r in rings if len(r) > 2]
        if not rings:
            return Polygon()
        polygon = Polygon(rings[0], rings[1:])
        return polygon if polygon.is_valid else make_valid(polygon)
    facets = ctx.snapshot.facets.get(face, ())
    if not facets:
        return Polygon()
    triangles = shapely.polygons(np.array([[plane.at(q) for q in t] for t in facets]))
    return unary_union(triangles[shapely.area(triangles) > 1e-9])


def points2(ctx: Context, faces: Iterable[int], plane: Plane2) -> list[Point]:
    """Projected outline points of faces."""
    out = []
    for f in sorted(faces):
        for e in ctx.snapshot.face_edges[f]:
            out += [plane.at(p) for p in ctx.snapshot.edges[e].points]
    return out


def edge_lines(ctx: Context, faces: Iterable[int], plane: Plane2) -> BaseGeometry:
    """Projected edges of faces."""
    edges = sorted({e for f in faces for e in ctx.snapshot.face_edges[f]})
    return unary_union([LineString([plane.at(p) for p in ctx.snapshot.edges[e].points]) for e in edges])


@dataclass(frozen=True)
class HalfPlane:
    """n . q >= c is the free side of a wall; several of them stand for an arc."""

    n: Point
    c: float
    face: int


def half_planes(ctx: Context, faces: Iterable[int], plane: Plane2) -> list[HalfPlane]:
    """Free sides of walls and leaning planes, seen along d; a leaning plane's is taken where it is lowest."""
    out = []
    for f in sorted(faces):
        s = ctx.faces[f].surface
        if s.kind == "plane":
            n = plane.at(s.axis)
            size = hypot(*n)
            if size < 1e-6:
                continue
            n = (n[0] / size, n[1] / size)
            c = min(n[0] * q[0] + n[1] * q[1] for q in points2(ctx, [f], plane))
            out.append(HalfPlane(n, c, f))
        elif not _runs_on(ctx, f, plane.d):
            out += _arc_half_planes(ctx, f, plane)
    return out


def _runs_on(ctx: Context, face: int, d: Vector) -> bool:
    """A leaning radius that a leaning plane carries on upwards: the plane, not the radius, is the side."""
    if tilt(ctx, face, d)[1] < 0.01:
        return False
    beside = [n for n, _, sign in ctx.graph.links(face) if sign == "smooth" and ctx.faces[n].kind == "plane"]
    return any(0.01 < tilt(ctx, n, d)[0] < 0.99 for n in beside)


def _arc_half_planes(ctx: Context, face: int, plane: Plane2) -> list[HalfPlane]:
    """Tangents of an arc at its facets' corners: one a direction, where a leaning face lies lowest."""
    corners = ctx.snapshot.facet_arrays.get(face)
    if corners is None or ctx.faces[face].kind not in ("cylinder", "cone", "sphere", "torus"):
        return []
    # Formula only: at a cone's tip a facet's own normal would be no tangent of the wall.
    p, normals = corners.reshape(-1, 3).T, ctx.faces[face].surface.normals_at(corners.reshape(-1, 3)).T
    u, v = plane.u, plane.v
    nx, ny = (normals[0] * w[0] + normals[1] * w[1] + normals[2] * w[2] for w in (u, v))
    qx, qy = (p[0] * w[0] + p[1] * w[1] + p[2] * w[2] for w in (u, v))
    size = np.hypot(nx, ny)
    steep = size > 0.5  # nan is not
    kx, ky = (np.round(n[steep] / size[steep], 6) + 0.0 for n in (nx, ny))
    lowest: dict[Point, float] = {}
    for x, y, c in zip(kx.tolist(), ky.tolist(), (kx * qx[steep] + ky * qy[steep]).tolist(), strict=True):
        lowest[x, y] = min(c, lowest.get((x, y), c))
    return [HalfPlane(n, c, face) for n, c in sorted(lowest.items())]


def clipped(polygon: BaseGeometry, planes: Iterable[HalfPlane], reach: float) -> BaseGeometry:
    """Part of a polygon on the free side of all half-planes; `reach` is longer than the polygon."""
    for h in planes:
        foot = (h.n[0] * h.c, h.n[1] * h.c)
        t = (-h.n[1], h.n[0])
        a = (foot[0] + t[0] * reach, foot[1] + t[1] * reach)
        b = (foot[0] - t[0] * reach, foot[1] - t[1] * reach)
        far = [
            (b[0] + h.n[0] * 2 * reach, b[1] + h.n[1] * 2 * reach),
            (a[0] + h.n[0] * 2 * reach, a[1] + h.n[1] * 2 * reach),
        ]
        polygon = polygon.intersection(Polygon([a, b, *far]))
    return polygon


def box_polygon(ctx: Context, plane: Plane2) -> BaseGeometry:
    """The part's box seen along d."""
    return MultiPoint([plane.at(p) for p in ctx.frame.corners()]).convex_hull


def convex_outline(ctx: Context, reading: Reading) -> Outline:
    """Outline of a convex body: the hull of what is left of it, and sides from its walls as half-planes in the box.

    Sides come from the half-planes, so that a wall's corner eaten by another cut does not count as an open side.
    """
    plane = Plane2(reading.d)
    faces = reading.floors + reading.walls + reading.leans
    hull = MultiPoint(points2(ctx, faces, plane)).convex_hull
    sides = [f for f in reading.walls + reading.leans]
    planes = half_planes(ctx, sides, plane)
    frame = box_polygon(ctx, plane)
    reach = 4 * max(ctx.frame.size) + 10 * max(abs(v) for v in (*ctx.frame.low, *ctx.frame.high))
    room = clipped(frame, planes, reach)
    runs = _runs(ctx, room, planes, reading) if room.area > 0 else []
    for k in range(len(runs)):
        _ended_by_its_arc(ctx, runs, k, plane)
    region = hull if hull.area > 1e-9 else room
    return Outline(reading.d, region, runs)


def _runs(ctx: Context, room: BaseGeometry, planes: list[HalfPlane], reading: Reading) -> list[Run]:
    if room.geom_type != "Polygon":
        room = max(room.geoms, key=lambda g: g.area)
    ring = list(room.exterior.coords)
    eps = 4 * ctx.tol.length_mm
    runs: list[Run] = []
    for a, b in zip(ring, ring[1:], strict=False):
        if hypot(b[0] - a[0], b[1] - a[1]) < 1e-7:
            continue
        faces = sorted({h.face for h in planes if _on(h, a, eps) and _on(h, b, eps)})
        faces.sort(key=lambda f: (f in reading.blends, ctx.faces[f].kind != "plane", f))
        own = [f for f in faces if ctx.graph.group[f] == ctx.graph.group[faces[0]]]
        _append(ctx, runs, (a, b), own, reading)
    return _closed_ring(ctx, runs)


def _ended_by_its_arc(ctx: Context, runs: list[Run], k: int, plane: Plane2) -> None:
    """Ends an arc's run where its faces end: its last tangents meet the next wall early, or run on to the box."""
    run = runs[k]
    ends = _arc_ends(ctx, run, plane)
    if ends is None or len(run.points) < 2:
        return
    c, first, last = run.centre or (0.0, 0.0), run.points[0], run.points[-1]
    (ax, ay), (bx, by) = run.points[:2]
    way = 1 if (ax - c[0]) * (by - c[1]) > (ay - c[1]) * (bx - c[0]) else -1
    ends = ends[::way]  # type: ignore[assignment]
    angle = atan2(ends[1][1] - c[1], ends[1][0] - c[0]) - atan2(ends[0][1] - c[1], ends[0][0] - c[0])
    sweep, start = (way * angle) % tau, atan2(ends[0][1] - c[1], ends[0][0] - c[0])
    steps = max(2, round(degrees(sweep) / 10))
    angles = [start + way * sweep * i / steps for i in range(1, steps)]
    inner = [(c[0] + run.radius * cos(t), c[1] + run.radius * sin(t)) for t in angles]  # type: ignore[operator]
    run.points = [ends[0], *inner, ends[1]]
    near = 0.2 * (run.radius or 0.0)
    before, after = runs[k - 1], runs[(k + 1) % len(runs)]
    if before is not run and _gap(before.points[-1], first) < 1e-9 and _gap(first, ends[0]) < near:
        before.points[-1] = ends[0]
    if after is not run and _gap(after.points[0], last) < 1e-9 and _gap(last, ends[1]) < near:
        after.points[0] = ends[1]


def _gap(a: Point, b: Point) -> float:
    return hypot(b[0] - a[0], b[1] - a[1])


def _arc_ends(ctx: Context, run: Run, plane: Plane2) -> tuple[Point, Point] | None:
    """Ends of an upright cylinder's faces, anticlockwise; None where they go all round, or of another run."""
    if run.centre is None or not run.radius:
        return None
    c = run.centre
    points = points2(ctx, run.faces, plane)
    around = sorted((atan2(q[1] - c[1], q[0] - c[0]), q) for q in points)
    turns = [(b[0] - a[0]) % tau for a, b in zip(around, around[1:] + around[:1], strict=True)]
    if not turns or max(turns) < 15 * pi / 180:
        return None
    k = turns.index(max(turns))
    return around[(k + 1) % len(around)][1], around[k][1]


def _on(h: HalfPlane, q: Point, eps: float) -> bool:
    return abs(h.n[0] * q[0] + h.n[1] * q[1] - h.c) < eps


def _append(ctx: Context, runs: list[Run], segment: tuple[Point, Point], faces: list[int], reading: Reading) -> None:
    last = runs[-1] if runs else None
    if last is not None and _same_side(ctx, last, segment, faces):
        last.points.append(segment[1])
        last.faces = sorted(set(last.faces) | set(faces))
        return
    run = Run([segment[0], segment[1]], faces)
    if faces:
        f = ctx.faces[faces[0]]
        if f.kind in ("cylinder", "cone", "torus"):
            run.radius = f.surface.radius
        if f.kind == "cylinder" and abs(dot(f.surface.axis, reading.d)) > 1 - 1e-6:
            run.centre = Plane2(reading.d).at(f.surface.origin)
        run.corner = faces[0] in reading.blends
    runs.append(run)


def _same_side(ctx: Context, last: Run, segment: tuple[Point, Point], faces: list[int]) -> bool:
    if bool(last.faces) != bool(faces):
        return False
    if faces:
        return ctx.graph.group[faces[0]] == ctx.graph.group[last.faces[0]]
    return _turn(last.points[-2], last.points[-1], segment[1]) < 20.0


def _turn(a: Point, b: Point, c: Point) -> float:
    first, second = atan2(b[1] - a[1], b[0] - a[0]), atan2(c[1] - b[1], c[0] - b[0])
    return abs((degrees(second - first) + 180) % 360 - 180)


def _closed_ring(ctx: Context, runs: list[Run]) -> list[Run]:
    """Joins the last run to the first where they are one side."""
    if len(runs) > 1:
        first, last = runs[0], runs[-1]
        if _same_side(ctx, last, (first.points[0], first.points[1]), first.faces):
            first.points = last.points[:-1] + first.points
            first.faces = sorted(set(first.faces) | set(last.faces))
            runs.pop()
    return runs


def traced_outline(ctx: Context, reading: Reading) -> Outline:
    """Outline of a body that is not convex: its floors and leaning faces seen along d, foreign inner holes filled."""
    plane = Plane2(reading.d)
    own = set(reading.floors + reading.walls + reading.leans)
    parts = [face_polygon(ctx, f, plane) for f in reading.floors + reading.leans]
    ground = unary_union([p for p in parts if not p.is_empty]).buffer(0)
    if ground.is_empty:
        ground = between_walls(ctx, reading, plane)
    islands = _island_rings(ctx, own, reading, plane)
    pieces = list(ground.geoms) if hasattr(ground, "geoms") else [ground]
    filled = unary_union([_filled(p, islands) for p in pieces if p.area > 1e-9])
    return Outline(reading.d, filled, _traced_runs(ctx, filled, reading, plane))


def between_walls(ctx: Context, reading: Reading, plane: Plane2) -> BaseGeometry:
    """Region inside a ring of upright walls that has no floor."""
    from shapely.ops import polygonize

    lines = []
    for f in reading.walls:
        for e in ctx.snapshot.face_edges[f]:
            pts = [plane.at(p) for p in ctx.snapshot.edges[e].points]
            if LineString(pts).length > 1e-6:
                lines.append(LineString([(round(x, 4), round(y, 4)) for x, y in pts]))
    found = list(polygonize(unary_union(lines)))
    if found:
        return unary_union(found)
    return MultiPoint(points2(ctx, reading.walls, plane)).convex_hull


def _island_rings(ctx: Context, own: set[int], reading: Reading, plane: Plane2) -> list[BaseGeometry]:
    """Polygons of inner loops at which a wall rises: islands, not deeper cuts."""
    rings = []
    for f in reading.floors + reading.leans:
        for k, loop in enumerate(ctx.faces[f].loops):
            if k == 0:
                continue
            signs = [
                ctx.graph.graph.edges[f, n, e]["sign"] for e, _ in loop for n in ctx.snapshot.edges[e].faces if n != f
            ]
            if any(s == "concave" or (s == "smooth") for s in signs):
                ring = [plane.at(p) for p in ctx.snapshot.loop_points(f, k)]
                if len(ring) > 2:
                    rings.append(Polygon(ring).buffer(0))
    return rings


def _filled(polygon: Polygon, islands: list[BaseGeometry]) -> BaseGeometry:
    """Polygon without its inner rings, but for those that hold an island."""
    outer = Polygon(polygon.exterior)
    for ring in polygon.interiors:
        hole = Polygon(ring)
        if any(hole.intersection(i).area > 0.5 * min(hole.area, i.area) for i in islands):
            outer = outer.difference(hole)
    return outer


def _traced_runs(ctx: Context, region: BaseGeometry, reading: Reading, plane: Plane2) -> list[Run]:
    if region.is_empty:
        return []
    polygon = region if region.geom_type == "Polygon" else max(region.geoms, key=lambda g: g.area)
    walls = [(f, _wall_line(ctx, f, plane)) for f in reading.walls + reading.leans]
    rounds = _foreign_rounds(ctx, reading)
    foreign = [(f, _wall_line(ctx, f, plane)) for f in rounds]
    eps = 6 * ctx.tol.length_mm
    runs: list[Run] = []
    ring = list(polygon.exterior.coords)
    for a, b in zip(ring, ring[1:], strict=False):
        if hypot(b[0] - a[0], b[1] - a[1]) < 1e-7:
            continue
        middle = LineString([a, b]).interpolate(0.5, normalized=True)
        sag = 0.02 * hypot(b[0] - a[0], b[1] - a[1])
        faces = sorted(f for f, line in walls if line.distance(middle) < eps + sag)
        faces = faces or sorted(f for f, line in foreign if line.distance(middle) < eps + sag)
        _append(ctx, runs, (a, b), faces[:1], reading)
    for run in runs:
        run.corner = run.corner or any(f in rounds for f in run.faces)
    return _closed_ring(ctx, runs)


def _foreign_rounds(ctx: Context, reading: Reading) -> list[int]:
    """Upright round edges of the walls, claimed as such: they stand on the floor, so no side is open there."""
    own = set(reading.floors + reading.walls + reading.leans)
    beside = {n for f in reading.floors for n, _, sign in ctx.graph.links(f) if sign == "concave" and n not in own}
    return sorted(f for f in beside if ctx.faces[f].kind == "cylinder" and tilt(ctx, f, reading.d) == (0.0, 0.0))


def _wall_line(ctx: Context, face: int, plane: Plane2) -> BaseGeometry:
    lines = []
    for e in ctx.snapshot.face_edges[face]:
        pts = [plane.at(p) for p in ctx.snapshot.edges[e].points]
        if LineString(pts).length > 1e-9:
            lines.append(LineString(pts))
    return unary_union(lines) if lines else LineString()


def extents(ctx: Context, outline: Outline, reading: Reading) -> tuple[float, float]:
    """(extent along, extent across) the longest straight side of a region, closed ones first; where it has none, the
    sides of its smallest rectangle.
    """
    region = outline.region
    if region.is_empty:
        return 0.0, 0.0
    plane = Plane2(outline.d)
    t = _main_way(ctx, outline, reading, plane)
    hull = region.convex_hull
    coords = list(hull.exterior.coords) if hasattr(hull, "exterior") else list(hull.coords)
    coords += _arc_extremes(ctx, reading, plane, t)
    along = [q[0] * t[0] + q[1] * t[1] for q in coords]
    across = [q[1] * t[0] - q[0] * t[1] for q in coords]
    return max(along) - min(along), max(across) - min(across)


def _main_way(ctx: Context, outline: Outline, reading: Reading, plane: Plane2) -> Point:
    """Unit vector along a region's longest straight side."""
    straight = [r for r in outline.runs if r.radius is None and not r.corner and _is_straight(r)]
    sides = [r for r in straight if not r.open] or straight
    if sides:
        longest = max(round(r.length, 4) for r in sides)
        side = next(r for r in sides if round(r.length, 4) >= longest - 1e-3)
        return _unit(side.points[0], side.points[-1])
    ways = [outline.region]
    for turn in range(0, 90, 2):  # arcs bulge past their chords, so the smallest rectangle is sought over both
        t = (cos(turn * pi / 180), sin(turn * pi / 180))
        ways.append(MultiPoint(_arc_extremes(ctx, reading, plane, t)) if reading.walls else Polygon())
    found = unary_union([w.convex_hull for w in ways if not w.is_empty]).convex_hull
    box_around = found.minimum_rotated_rectangle
    if box_around.geom_type != "Polygon":
        return (1.0, 0.0)
    ring = list(box_around.exterior.coords)
    a, b = max(zip(ring, ring[1:], strict=False), key=lambda s: round(hypot(s[1][0] - s[0][0], s[1][1] - s[0][1]), 6))
    return _unit(a, b)


def _unit(a: Point, b: Point) -> Point:
    size = hypot(b[0] - a[0], b[1] - a[1]) or 1.0
    return ((b[0] - a[0]) / size, (b[1] - a[1]) / size)


def _is_straight(run: Run) -> bool:
    """All points of a run on the line through its ends."""
    a, b = run.points[0], run.points[-1]
    (tx, ty), size = _unit(a, b), hypot(b[0] - a[0], b[1] - a[1])
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


def room_for_cutters(outline: Outline) -> BaseGeometry:
    """The region, widened past its open sides, where a cutter may swing out into the air."""
    reach = 2 * shapely.minimum_bounding_radius(outline.region)
    out = -1.0 if _area(q for r in outline.runs for q in r.points[:-1]) < 0 else 1.0
    pieces, last = [outline.region], None
    for run in outline.runs:
        if not run.open:
            last = None
            continue
        for a, b in zip(run.points, run.points[1:], strict=False):
            if hypot(b[0] - a[0], b[1] - a[1]) < 1e-6:
                continue
            t = _unit(a, b)
            n = (out * t[1] * reach, -out * t[0] * reach)
            ends = [(q[0] + n[0], q[1] + n[1]) for q in (a, b)]
            pieces.append(Polygon([a, b, ends[1], ends[0]]))
            if last is not None:  # no slit between two open sides
                pieces.append(MultiPoint([a, last, ends[0]]).convex_hull)
            last = ends[1]
    return unary_union([p for p in pieces if p.area > 0]).buffer(1e-4).buffer(-1e-4)


def _area(points: Iterable[Point]) -> float:
    """Signed area of a ring, positive where it runs anticlockwise."""
    ring = list(points)
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:] + ring[:1], strict=True)) / 2


Circle = tuple[Point, float]


def circles_of(ctx: Context, reading: Reading) -> list[Circle]:
    """(centre, radius) of the arcs round a body's floors and walls that lie square to the direction."""
    plane, found = Plane2(reading.d), {}
    for f in reading.floors + reading.walls:
        for k in ctx.snapshot.face_edges[f]:
            e = ctx.snapshot.edges[k]
            if e.curve == "circle" and e.centre and e.axis and abs(dot(e.axis, plane.d)) > 1 - 1e-6:
                c = plane.at(e.centre)
                found[round(c[0], 4), round(c[1], 4), round(e.radius, 4)] = (c, e.radius)
    return [found[k] for k in sorted(found)]


def _rounded(polygon: Polygon, circles: list[Circle]) -> Polygon:
    """Polygon with its arcs in chords fine enough for its width: between thin rings coarse ones would cut the gap."""
    sag = 1.5e-3 * 2 * polygon.area / polygon.length  # area by half the length of its edge: a strip's own width
    coarse = [(c, r) for c, r in circles if r * (1 - cos(pi / 36)) > sag]
    if not coarse:
        return polygon
    outer, *inner = (
        [q for a, b in zip(g.coords, g.coords[1:], strict=False) for q in _arc_points(a, b, coarse, sag)]
        for g in (polygon.exterior, *polygon.interiors)
    )
    fine = Polygon(outer, inner)
    return fine if fine.is_valid else polygon


def _arc_points(a: Point, b: Point, circles: list[Circle], sag: float) -> list[Point]:
    """a and points of its circle on towards b, without b."""
    for c, r in circles:
        turn = _swept(c, a, b)
        if abs(_gap(a, c) - r) < 1e-3 and abs(_gap(b, c) - r) < 1e-3 and 1e-6 < turn < 0.27:
            steps = min(16, ceil(turn / (2 * sqrt(2 * sag / r))))
            mixed = [
                (a[0] + (b[0] - a[0]) * i / steps - c[0], a[1] + (b[1] - a[1]) * i / steps - c[1])
                for i in range(1, steps)
            ]
            return [a, *((c[0] + x * r / hypot(x, y), c[1] + y * r / hypot(x, y)) for x, y in mixed)]
    return [a]


def widest_cutter(outline: Outline, circles: list[Circle]) -> tuple[float | None, float | None]:
    """(narrowest gap, largest cutter): diameters of the largest disc that reaches all but the corners, and of the
    largest that fits anywhere; None where it cannot be found. Found by shrinking the region; a disc counts as reaching
    all while it passes between all islands, and what it leaves are its own corners.
    """
    if outline.region.is_empty or outline.region.area < 1e-9:
        return None, None
    room = room_for_cutters(outline)
    if room.geom_type != "Polygon":
        room = max(room.geoms, key=lambda g: g.area)
    room = _rounded(room, circles)
    x0, y0, x1, y1 = room.bounds
    largest = 2 * shapely.maximum_inscribed_circle(room, tolerance=1e-3 * min(x1 - x0, y1 - y0)).length
    if abs(outline.region.convex_hull.area - outline.region.area) < 1e-4 * outline.region.area:
        return largest, largest
    low, high = 0.0, largest / 2
    for _ in range(12):
        r = (low + high) / 2
        if _passes(room, r):
            low = r
        else:
            high = r
    # A slit that narrow is a tip between two sides or a fault of the outline, and no way that a cutter must pass.
    return (2 * low if low > 0.01 * largest else None), largest


def _passes(room: BaseGeometry, r: float) -> bool:
    """A disc of radius r passes everywhere: the shrunk region is one piece round as many islands, and grows back to all
    but small corners.
    """
    shrunk = room.buffer(-r, quad_segs=8)
    if shrunk.is_empty or shrunk.geom_type != "Polygon" or len(shrunk.interiors) < len(room.interiors):
        return False
    left = room.difference(shrunk.buffer(r * 1.0005, quad_segs=16))
    pieces = list(left.geoms) if hasattr(left, "geoms") else [left]
    # A corner of 60 degrees or more keeps back less than 0.7 r2; a strip or a bay that is missed keeps back more.
    return all(p.area < 0.75 * r * r for p in pieces)


__all__ = ["box", "convex_outline", "extents", "traced_outline", "widest_cutter"]
