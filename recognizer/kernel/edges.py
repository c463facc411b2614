"""Kernel edges -> edges: curve, polyline, and how its two faces bend there."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.GeomAbs import GeomAbs_CurveType as C
from OCP.GeomAbs import GeomAbs_Shape
from OCP.gp import gp_Pnt, gp_Vec
from OCP.TopAbs import TopAbs_REVERSED
from OCP.TopExp import TopExp

from recognizer.arcs import arc_points
from recognizer.bend import signed_bend
from recognizer.free_curves import Sampled, sampled
from recognizer.kernel.surfaces import point_normal, xyz
from recognizer.snapshot import Edge, Surface
from recognizer.vector import distance, length, unit
from shared.tolerances import Tolerances
from shared.units import Vector


def edge_of(
    index: int, shape: Any, uses: list[tuple[int, bool]], surfaces: Sequence[Surface], faces: list[Any], tol: Tolerances
) -> Edge:
    """Edge record of a kernel edge; `uses` are (face, runs along the curve) of each loop that it stands in."""
    owners = tuple(dict.fromkeys(f for f, _ in uses))
    if BRep_Tool.Degenerated_s(shape):
        p = _vertex_point(shape)
        return Edge(index, "degenerate", (p, p), 0.0, owners, 0.0, degenerate=True)
    adaptor = BRepAdaptor_Curve(shape)
    first, last = adaptor.FirstParameter(), adaptor.LastParameter()
    curve = adaptor.GetType()
    points: tuple[Vector, ...]
    centre = axis = None
    radius = 0.0
    if curve == C.GeomAbs_Line:
        name, points = "line", (xyz(adaptor.Value(first)), xyz(adaptor.Value(last)))
        size = distance(*points)
    elif curve == C.GeomAbs_Circle:
        circle = adaptor.Circle()
        centre, axis, radius = xyz(circle.Location()), xyz(circle.Axis().Direction()), circle.Radius()
        name, points, size = "circle", _arc(circle, first, last), radius * abs(last - first)
    else:
        name, points, size, centre, axis, radius = _free_curve(adaptor, first, last, tol)
    p, t = gp_Pnt(), gp_Vec()
    adaptor.D1(0.5 * (first + last), p, t)
    tangent = _safe_unit(xyz(t))
    bend = _bend(shape, uses, surfaces, faces, xyz(p), tangent, tol)
    seam = len(uses) == 2 and len(owners) == 1
    return Edge(index, name, points, size, owners, bend, seam, False, centre, axis, radius, tangent)


def _safe_unit(v: Vector) -> Vector:
    return unit(v) if length(v) > 1e-12 else (0.0, 0.0, 0.0)


def _vertex_point(edge: Any) -> Vector:
    return xyz(BRep_Tool.Pnt_s(TopExp.FirstVertex_s(edge)))


def _arc(circle: Any, first: float, last: float) -> tuple[Vector, ...]:
    frame = circle.Position()
    c, x, y = xyz(frame.Location()), xyz(frame.XDirection()), xyz(frame.YDirection())
    return arc_points(c, x, y, circle.Radius(), first, last)


def _free_curve(adaptor: Any, first: float, last: float, tol: Tolerances) -> Sampled:
    def steps(n: int) -> tuple[Vector, ...]:
        return tuple(xyz(adaptor.Value(first + (last - first) * i / n)) for i in range(n + 1))

    return sampled(steps, lambda: adaptor.NbIntervals(GeomAbs_Shape.GeomAbs_CN), tol)


def _bend(
    edge: Any,
    uses: list[tuple[int, bool]],
    surfaces: Sequence[Surface],
    faces: list[Any],
    p: Vector,
    tangent: Vector,
    tol: Tolerances,
) -> float:
    """Signed degrees between the outward normals at p: + convex, - concave, 0 smooth, a seam or unknown."""
    if len(uses) != 2 or uses[0][0] == uses[1][0]:
        return 0.0
    (fa, forward), (fb, _) = uses
    na, nb = (surfaces[f].normal_at(p) or _normal_by_pcurve(edge, faces[f]) for f in (fa, fb))
    if na is None or nb is None:
        return 0.0
    return signed_bend(na, nb, tangent, forward, tol)


def _normal_by_pcurve(edge: Any, face: Any) -> Vector | None:
    try:
        first, last = 0.0, 0.0
        pcurve = BRep_Tool.CurveOnSurface_s(edge, face, first, last)
        if isinstance(pcurve, tuple):
            pcurve, first, last = pcurve
        else:
            from OCP.BRepAdaptor import BRepAdaptor_Curve2d

            two = BRepAdaptor_Curve2d(edge, face)
            first, last = two.FirstParameter(), two.LastParameter()
        uv = pcurve.Value(0.5 * (first + last))
        _, n = point_normal(BRepAdaptor_Surface(face, False), uv.X(), uv.Y(), face.Orientation() == TopAbs_REVERSED)
    except Exception:  # a missing pcurve is odd geometry, not our error: the edge stays unknown
        return None
    return n if length(n) > 0.5 else None
