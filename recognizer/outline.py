"""The removed region of a body seen along a direction: its outline, its closed and open sides, its widths.

All 2-D work happens in the plane across d, with coordinates (p . u, p . v) from `plane_axes(d)`; shapely does the
polygon arithmetic.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from math import atan2, cos, degrees, hypot, pi, sin, tau

import numpy as np
import shapely
from shapely import MultiPoint, Polygon, make_valid, unary_union
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
            return self.radius * sum(swept(self.centre, a, b) for a, b in turns)
        return sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in zip(self.points, self.points[1:], strict=False))


def swept(centre: Point, a: Point, b: Point) -> float:
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
    if before is not run and gap2(before.points[-1], first) < 1e-9 and gap2(first, ends[0]) < near:
        before.points[-1] = ends[0]
    if after is not run and gap2(after.points[0], last) < 1e-9 and gap2(last, ends[1]) < near:
        after.points[0] = ends[1]


def gap2(a: Point, b: Point) -> float:
    """Distance between two points of the plane."""
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
