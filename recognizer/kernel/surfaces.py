"""Kernel faces -> surfaces: kind, axis, radius and which side is the outside; splines that are analytic by name."""

from __future__ import annotations

from math import atan2, degrees, pi
from typing import Any

from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.GeomAbs import GeomAbs_SurfaceType as S
from OCP.gp import gp_Cone, gp_Cylinder, gp_Pln, gp_Pnt, gp_Sphere, gp_Vec
from OCP.ShapeAnalysis import ShapeAnalysis_CanonicalRecognition
from OCP.TopAbs import TopAbs_REVERSED

from recognizer.fitted import fit_torus
from recognizer.snapshot import Surface, plane_axes
from recognizer.vector import cross, dot, length, sub, unit
from shared.tolerances import Tolerances
from shared.units import Vector

ELEMENTARY = (S.GeomAbs_Plane, S.GeomAbs_Cylinder, S.GeomAbs_Cone, S.GeomAbs_Sphere, S.GeomAbs_Torus)
SURFACE_NAMES = {
    S.GeomAbs_Plane: "plane",
    S.GeomAbs_Cylinder: "cylinder",
    S.GeomAbs_Cone: "cone",
    S.GeomAbs_Sphere: "sphere",
    S.GeomAbs_Torus: "torus",
    S.GeomAbs_BezierSurface: "bezier",
    S.GeomAbs_BSplineSurface: "bspline",
    S.GeomAbs_SurfaceOfRevolution: "revolution",
    S.GeomAbs_SurfaceOfExtrusion: "extrusion",
}


def xyz(p: Any) -> Vector:
    """Coordinates of a kernel point, vector or direction."""
    return (p.X(), p.Y(), p.Z())


def surface_of(face: Any, tol: Tolerances) -> tuple[Surface, float]:
    """Surface of a kernel face, and the degrees that it covers round its axis (0 on planes and free forms)."""
    adaptor = BRepAdaptor_Surface(face, False)
    kind = SURFACE_NAMES.get(adaptor.GetType(), "other")
    reversed_ = face.Orientation() == TopAbs_REVERSED
    if kind == "plane":
        return _plane(adaptor.Plane(), reversed_), 0.0
    made = {"cylinder": adaptor.Cylinder, "cone": adaptor.Cone, "sphere": adaptor.Sphere, "torus": adaptor.Torus}
    if kind in made:
        elementary = made[kind]()
        bounds = BRepAdaptor_Surface(face, True)
        span = degrees(abs(bounds.LastUParameter() - bounds.FirstUParameter()))
        return _round(kind, elementary, elementary.Position().Direct() == reversed_), min(span, 360.0)
    return _canonical(face, kind, tol)


def _plane(plane: Any, reversed_: bool) -> Surface:
    frame = plane.Position()
    z = xyz(frame.Direction())
    # A left-handed frame's X x Y is -Z: the natural normal turns with it.
    flip = reversed_ == frame.Direct()
    return Surface("plane", xyz(plane.Location()), (-z[0], -z[1], -z[2]) if flip else z)


def _round(kind: str, s: Any, hollow: bool) -> Surface:
    frame = s.Position()
    origin, axis = xyz(frame.Location()), xyz(frame.Direction())
    if kind == "cone":
        return Surface(kind, origin, axis, s.RefRadius(), half_angle=degrees(s.SemiAngle()), hollow=hollow)
    if kind == "torus":
        return Surface(kind, origin, axis, s.MinorRadius(), major_radius=s.MajorRadius(), hollow=hollow)
    return Surface(kind, origin, axis, s.Radius(), hollow=hollow)


def _canonical(face: Any, kind: str, tol: Tolerances) -> tuple[Surface, float]:
    """A free-form face that is a plane, cylinder, cone or sphere within tolerance, or itself."""
    found = ShapeAnalysis_CanonicalRecognition(face)
    eps = tol.length_mm / 5
    plane, cylinder, cone, sphere = gp_Pln(), gp_Cylinder(), gp_Cone(), gp_Sphere()
    adaptor, u0, u1, v0, v1 = _bounds(face)
    reversed_ = face.Orientation() == TopAbs_REVERSED
    point, normal = point_normal(adaptor, 0.5 * (u0 + u1), 0.5 * (v0 + v1), reversed_)
    if found.IsPlane(eps, plane):
        surface = _plane(plane, False)
        return (surface if dot(surface.axis, normal) > 0 else _plane(plane, True)), 0.0
    for name, test, s in (
        ("cylinder", found.IsCylinder, cylinder),
        ("cone", found.IsCone, cone),
        ("sphere", found.IsSphere, sphere),
    ):
        if test(eps, s):
            surface = _round(name, s, False)
            outward = surface.normal_at(point)
            hollow = outward is not None and dot(outward, normal) < 0
            return _round(name, s, hollow), _span_of_points(face, surface)
    grid = [[xyz(adaptor.Value(u, v)) for v in _steps(v0, v1, 6)] for u in _steps(u0, u1, 6)]
    torus = fit_torus(grid, normal, point, eps)
    if torus is not None:
        return torus, _span_of_points(face, torus)
    return Surface(kind, point, normal), 0.0


def _steps(first: float, last: float, n: int) -> list[float]:
    return [first + (last - first) * i / n for i in range(n + 1)]


def _bounds(face: Any) -> tuple[Any, float, float, float, float]:
    adaptor = BRepAdaptor_Surface(face, True)
    return (
        adaptor, adaptor.FirstUParameter(), adaptor.LastUParameter(), adaptor.FirstVParameter(), adaptor.LastVParameter()
    )  # fmt: skip


def point_normal(adaptor: Any, u: float, v: float, reversed_: bool) -> tuple[Vector, Vector]:
    """(point, outward unit normal) at surface parameters; the normal is zero where the surface has none."""
    p, du, dv = gp_Pnt(), gp_Vec(), gp_Vec()
    adaptor.D1(u, v, p, du, dv)
    n = cross(xyz(du), xyz(dv))
    if length(n) < 1e-12:
        return xyz(p), (0.0, 0.0, 0.0)
    n = unit(n)
    return xyz(p), (-n[0], -n[1], -n[2]) if reversed_ else n


def _span_of_points(face: Any, s: Surface) -> float:
    """Degrees round the axis that a face covers, from a grid of its parameters: the largest empty sector is left out."""
    adaptor, u0, u1, v0, v1 = _bounds(face)
    x, y = plane_axes(s.axis)
    rows = [(u, v) for u in _steps(u0, u1, 48) for v in _steps(v0, v1, 2)]
    rows += [(u, v) for u in _steps(u0, u1, 2) for v in _steps(v0, v1, 48)]  # either parameter may run round the axis
    angles = []
    for u, v in rows:
        rel = sub(xyz(adaptor.Value(u, v)), s.origin)
        if length(cross(rel, s.axis)) > 1e-9:
            angles.append(atan2(dot(rel, y), dot(rel, x)) % (2 * pi))
    angles.sort()
    gaps = [b - a for a, b in zip(angles, angles[1:] + [angles[0] + 2 * pi], strict=True)]
    # A full turn leaves only the sampling step empty.
    return 360.0 if max(gaps) < 2 * pi / 40 else degrees(2 * pi - max(gaps))
