"""Regions seen along a direction: what covers them, their sides, and faces projected across the direction.

All 2-D work happens in the plane across d, with coordinates (p . u, p . v) from `plane_axes(d)`. Convex regions are
kept as plain rings (`convex.py`); shapely does the arithmetic of the others.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from math import atan2, degrees, hypot, pi, tau

import numpy as np
import shapely
from shapely import Polygon, make_valid, unary_union
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from recognizer import convex
from recognizer.bodies import Reading
from recognizer.convex import Point, Ring
from recognizer.rule import Context
from recognizer.snapshot import plane_axes
from recognizer.vector import cross, dot, length, sub
from shared.units import Vector


@dataclass
class Run:
    """One side of an outline: a stretch of its boundary on one wall, or open."""

    points: list[Point]
    faces: list[int] = field(default_factory=list)
    radius: float | None = None
    corner: bool = False
    centre: Point | None = None
    """Of an upright cylinder's arc."""
    ball: bool = False
    """On a sphere."""

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


class Region:
    """A region across a direction: a convex ring, or a polygon of any shape. The polygon of a ring is made on demand."""

    def __init__(self, shape: BaseGeometry | Ring) -> None:
        self.ring: Ring | None = shape if isinstance(shape, list) else None
        if not isinstance(shape, list):
            self.__dict__["region"] = shape

    @cached_property
    def region(self) -> BaseGeometry:
        """The region as a polygon."""
        return Polygon(self.ring or ())

    @cached_property
    def area(self) -> float:
        """Mm2."""
        return self.region.area if self.ring is None else convex.area(self.ring)

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """(least x, least y, greatest x, greatest y)."""
        return self.region.bounds if self.ring is None else convex.bounds(self.ring)

    @property
    def is_empty(self) -> bool:
        """Covers nothing."""
        return self.region.is_empty if self.ring is None else not self.ring

    @property
    def hull(self) -> Ring:
        """Corners of its convex hull."""
        if self.ring is not None:
            return self.ring
        around = self.region.convex_hull
        return list(around.exterior.coords if hasattr(around, "exterior") else around.coords)

    @property
    def rings(self) -> list[Ring]:
        """Corners of its closed rings, of each piece the outer one first."""
        if self.ring is not None:
            return [self.ring] if self.ring else []
        pieces = self.region.geoms if hasattr(self.region, "geoms") else [self.region]
        polygons = [p for p in pieces if p.geom_type == "Polygon"]
        rings = (r for p in polygons for r in (p.exterior, *p.interiors))
        return [list(map(tuple, shapely.get_coordinates(r).tolist()))[:-1] for r in rings]  # type: ignore[arg-type]


class Outline(Region):
    """Region of a body seen along d, and its sides in order round the outer ring."""

    def __init__(self, d: Vector, shape: BaseGeometry | Ring, runs: list[Run]) -> None:
        super().__init__(shape)
        self.d, self.runs = d, runs

    @cached_property
    def closed(self) -> list[Run]:
        """Walls, without corner radii."""
        return [r for r in self.runs if not r.open and not r.corner]

    @cached_property
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
        x, y = q
        return (
            x * u[0] + y * v[0] + level * d[0],
            x * u[1] + y * v[1] + level * d[1],
            x * u[2] + y * v[2] + level * d[2],
        )


def face_polygon(ctx: Context, face: int, plane: Plane2) -> BaseGeometry:
    """Projection of a plane face across d, or of a curved face as the union of its facets; kept with the context."""
    key = (face, plane.d)
    if key not in ctx.polygons:
        ctx.polygons[key] = _face_polygon(ctx, face, plane)
    return ctx.polygons[key]


def _face_polygon(ctx: Context, face: int, plane: Plane2) -> BaseGeometry:
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
    corners = ctx.snapshot.facet_arrays[face] @ np.array([plane.u, plane.v]).T
    return _united(corners)


def _united(corners: np.ndarray) -> BaseGeometry:
    """Union of triangles with (n, 3, 2) corners: of those that turn each way by themselves, where these do not overlap."""
    a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    area = (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) / 2
    sides = [k for k in (area > 1e-9, area < -1e-9) if k.any()]
    covered = [_covered(shapely.polygons(corners[k]), float(np.abs(area[k]).sum())) for k in sides]
    if any(c is None for c in covered):
        return unary_union(shapely.polygons(corners[np.abs(area) > 1e-9]))
    return covered[0] if len(covered) == 1 else unary_union(covered)


def _covered(triangles: np.ndarray, area: float) -> BaseGeometry | None:
    """Union of triangles that meet corner to corner; None where it has not their area: they overlap, or slivers miss."""
    try:
        united = shapely.coverage_union_all(triangles)
    except shapely.GEOSException:
        return None
    return united if united.is_valid and abs(united.area - area) < 1e-9 * area else None


def points2(ctx: Context, faces: Iterable[int], plane: Plane2) -> list[Point]:
    """Projected outline points of faces, each edge's once."""
    edges = sorted({e for f in faces for e in ctx.snapshot.face_edges[f]})
    return [plane.at(p) for e in edges for p in ctx.snapshot.edges[e].points]


def edge_lines(ctx: Context, faces: Iterable[int], plane: Plane2) -> BaseGeometry:
    """Projected edges of faces."""
    edges = sorted({e for f in faces for e in ctx.snapshot.face_edges[f]})
    return unary_union([LineString([plane.at(p) for p in ctx.snapshot.edges[e].points]) for e in edges])


def box_ring(ctx: Context, plane: Plane2) -> Ring:
    """The part's box seen along d, clockwise."""
    if plane.d not in ctx.box_rings:
        ctx.box_rings[plane.d] = convex.hull(plane.at(p) for p in ctx.frame.corners)
    return ctx.box_rings[plane.d]


def box_polygon(ctx: Context, plane: Plane2) -> BaseGeometry:
    """The part's box seen along d."""
    return Polygon(box_ring(ctx, plane))


def gap2(a: Point, b: Point) -> float:
    """Distance between two points of the plane."""
    return hypot(b[0] - a[0], b[1] - a[1])


def append_side(
    ctx: Context, runs: list[Run], segment: tuple[Point, Point], faces: list[int], reading: Reading
) -> None:
    """Adds a stretch of an outline on these faces (none: open) to the last run, or as a new one."""
    last = runs[-1] if runs else None
    if last is not None and _same_side(ctx, last, segment, faces):
        last.points.append(segment[1])
        last.faces = sorted(set(last.faces) | set(faces))
        return
    run = Run([segment[0], segment[1]], faces)
    if faces:
        f = ctx.faces[faces[0]]
        if f.kind in ("cylinder", "cone", "torus") or (f.kind == "sphere" and faces[0] in reading.blends):
            run.radius = f.surface.radius if f.kind != "cone" else _least_radius(ctx, faces[0])
        if f.kind == "cylinder" and abs(dot(f.surface.axis, reading.d)) > 1 - 1e-6:
            run.centre = Plane2(reading.d).at(f.surface.origin)
        run.corner, run.ball = faces[0] in reading.blends, f.kind == "sphere"
    runs.append(run)


def _least_radius(ctx: Context, cone: int) -> float | None:
    """Radius of a cone where it is narrowest; None at a tip."""
    s = ctx.faces[cone].surface
    rel = [sub(p, s.origin) for e in ctx.snapshot.face_edges[cone] for p in ctx.snapshot.edges[e].points]
    return min((length(cross(r, s.axis)) for r in rel), default=0.0) or None


def _same_side(ctx: Context, last: Run, segment: tuple[Point, Point], faces: list[int]) -> bool:
    if bool(last.faces) != bool(faces):
        return False
    if faces:
        return ctx.graph.group[faces[0]] == ctx.graph.group[last.faces[0]]
    return _turn(last.points[-2], last.points[-1], segment[1]) < 20.0


def _turn(a: Point, b: Point, c: Point) -> float:
    first, second = atan2(b[1] - a[1], b[0] - a[0]), atan2(c[1] - b[1], c[0] - b[0])
    return abs((degrees(second - first) + 180) % 360 - 180)


def closed_ring(ctx: Context, runs: list[Run]) -> list[Run]:
    """Joins the last run to the first where they are one side."""
    if len(runs) > 1:
        first, last = runs[0], runs[-1]
        if _same_side(ctx, last, (first.points[0], first.points[1]), first.faces):
            first.points = last.points[:-1] + first.points
            first.faces = sorted(set(first.faces) | set(last.faces))
            runs.pop()
    return runs
