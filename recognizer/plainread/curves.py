"""Edges of a plain part: lines, circles, ellipses and splines between two vertices."""

from __future__ import annotations

from math import atan2, cos, pi, sin, tau
from typing import NamedTuple

import numpy as np

from recognizer.arcs import arc_points
from recognizer.free_curves import sampled
from recognizer.plainread.free import FreeCurve, ellipse_of, spline_of
from recognizer.plainread.records import Frame, NotPlain, Records, flag, real, reference, unit_of
from recognizer.vector import add, along, distance, dot, scale, sub
from shared.tolerances import DEFAULT
from shared.units import Vector

OFF_MM = 1e-5
"""A vertex lies no farther off its edge's curve: what lies farther off is for the kernel."""
SHORTEST_MM = 1e-4
TIP = "degenerate"
"""Name of the curve at a cone's tip."""
Ends = tuple[Vector, Vector]
_WITH_A_CURVE_IN_SPACE = (b"SURFACE_CURVE", b"SEAM_CURVE", b"INTERSECTION_CURVE")


class Curve(NamedTuple):
    """An edge's curve, run in its own direction; vertices are record numbers.

    frame: of a circle that was written as one; centre, axis: of one that was written as something else. middle, tangent:
    a point half way along and the unit vector there. sense: whether the edge runs along its curve. free: what is
    neither line nor circle in the file, whatever it comes to.
    """

    name: str
    points: tuple[Vector, ...]
    length: float
    vertices: tuple[int, int]
    middle: Vector
    tangent: Vector
    sense: bool
    frame: Frame | None = None
    radius: float = 0.0
    centre: Vector | None = None
    axis: Vector | None = None
    free: FreeCurve | None = None


def curve_of(records: Records, number: int) -> Curve:
    """Curve of an EDGE_CURVE record."""
    _, start, end, geometry, flagged = records.fields(number, b"EDGE_CURVE", 5)
    sense, curve = flag(flagged), reference(geometry)
    vertices = (reference(start), reference(end)) if sense else (reference(end), reference(start))
    ends = records.vertex(vertices[0]), records.vertex(vertices[1])
    kind = records.kind(curve)
    if kind in _WITH_A_CURVE_IN_SPACE:
        curve = reference(records.fields(curve, kind, 4)[1])
        kind = records.kind(curve)
    if kind == b"LINE":
        return _line(records, curve, vertices, ends, sense)
    if kind == b"CIRCLE":
        return _circle(records, curve, vertices, ends, sense)
    if kind == b"ELLIPSE":
        return _free(ellipse_of(records, curve, ends, vertices[0] == vertices[1]), vertices, ends, sense)
    if kind == b"B_SPLINE_CURVE_WITH_KNOTS":
        return _free(spline_of(records, curve), vertices, ends, sense)
    raise NotPlain(f"#{curve} is a {kind.decode()}")


def tip_of(records: Records, vertex: int) -> Curve:
    """The edge without length that closes a cone's outline at its tip."""
    p = records.vertex(vertex)
    return Curve(TIP, (p, p), 0.0, (vertex, vertex), p, (0.0, 0.0, 0.0), True)


def _line(records: Records, number: int, vertices: tuple[int, int], ends: Ends, sense: bool) -> Curve:
    _, foot, vector = records.fields(number, b"LINE", 3)
    origin = records.point(reference(foot))
    _, towards, size = records.fields(reference(vector), b"VECTOR", 3)
    way = unit_of(scale(records.direction(reference(towards)), real(size)))
    first, last = dot(sub(ends[0], origin), way), dot(sub(ends[1], origin), way)
    a, b = points = (along(origin, way, first), along(origin, way, last))
    if last - first < SHORTEST_MM or distance(a, ends[0]) > OFF_MM or distance(b, ends[1]) > OFF_MM:
        raise NotPlain(f"#{number} does not lead from vertex to vertex")
    return Curve("line", points, distance(a, b), vertices, along(origin, way, 0.5 * (first + last)), way, sense)


def _circle(records: Records, number: int, vertices: tuple[int, int], ends: Ends, sense: bool) -> Curve:
    _, placement, size = records.fields(number, b"CIRCLE", 3)
    frame, radius = records.placement(reference(placement)), real(size)
    first, last = (_angle(frame, p) for p in ends)
    if vertices[0] == vertices[1]:
        last = first + tau
    elif last <= first:
        last += tau
    points = arc_points(frame[0], frame[2], frame[3], radius, first, last)
    off = max(distance(points[0], ends[0]), distance(points[-1], ends[1]))
    if radius < SHORTEST_MM or radius * (last - first) < SHORTEST_MM or off > OFF_MM:
        raise NotPlain(f"#{number} does not lead from vertex to vertex")
    x, y, turn = frame[2], frame[3], 0.5 * (first + last)
    out, beside = _on_unit_circle(x, y, turn), _on_unit_circle(x, y, turn + pi / 2)
    middle = add(frame[0], scale(out, radius))
    return Curve("circle", points, radius * (last - first), vertices, middle, beside, sense, frame, radius)


def _free(free: FreeCurve, vertices: tuple[int, int], ends: Ends, sense: bool) -> Curve:
    name, points, size, centre, axis, radius = sampled(free.steps, lambda: free.spans, DEFAULT)
    off = max(distance(points[0], ends[0]), distance(points[-1], ends[1]))
    (middle,), (slope,) = (v.tolist() for v in free.at(np.array([0.5 * (free.first + free.last)])))
    if size < SHORTEST_MM or not off < OFF_MM:
        raise NotPlain("a free curve does not lead from vertex to vertex")
    tangent = unit_of(tuple(slope))  # type: ignore[arg-type]
    return Curve(
        name,
        points,
        size,
        vertices,
        tuple(middle),
        tangent,
        sense,
        None,
        radius,
        centre,
        axis,
        free,  # type: ignore[arg-type]
    )


def _angle(frame: Frame, p: Vector) -> float:
    """Angle of a point about a frame's z axis, from 0 to a full turn."""
    rel = sub(p, frame[0])
    angle = atan2(dot(rel, frame[3]), dot(rel, frame[2])) % tau
    return 0.0 if tau - angle < 1e-12 else angle


def _on_unit_circle(x: Vector, y: Vector, angle: float) -> Vector:
    c, s = cos(angle), sin(angle)
    return (c * x[0] + s * y[0], c * x[1] + s * y[1], c * x[2] + s * y[2])
