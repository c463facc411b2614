"""Kernel solid -> Snapshot: one pass over faces and edges, then no kernel object is left."""

from __future__ import annotations

from collections.abc import Sequence
from math import acos, atan2, ceil, cos, degrees, pi, sin
from typing import Any

from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve, BRepAdaptor_Surface
from OCP.BRepGProp import BRepGProp, BRepGProp_Domain, BRepGProp_Face, BRepGProp_Vinert
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools_WireExplorer
from OCP.GeomAbs import GeomAbs_CurveType as C
from OCP.GeomAbs import GeomAbs_SurfaceType as S
from OCP.gp import gp_Cone, gp_Cylinder, gp_Pln, gp_Pnt, gp_Sphere, gp_Vec
from OCP.GProp import GProp_GProps
from OCP.ShapeAnalysis import ShapeAnalysis_CanonicalRecognition
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_REVERSED, TopAbs_WIRE
from OCP.TopExp import TopExp, TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS
from OCP.TopTools import TopTools_IndexedDataMapOfShapeListOfShape, TopTools_IndexedMapOfShape

from recognizer.kernel.fit import circle_through, fit_torus
from recognizer.snapshot import Edge, Face, Snapshot, Surface, plane_axes
from recognizer.vector import cross, distance, dot, length, scale, sub, unit
from shared.tolerances import DEFAULT, Tolerances
from shared.units import Vector

CHORD_DEG = 10.0
FREE_CURVE_POINTS = 13
KNIFE_DEG = 179.0
FACET_ANGLE_RAD = 0.2
MEASURE_EPS = 1e-5
"""Relative error of areas and volumes of free forms: the kernel's plain rule is 0.3 % off on rational splines."""
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


def snapshot_of(solid: Any, step_ids: Sequence[int | None] | None = None, tol: Tolerances = DEFAULT) -> Snapshot:
    """Snapshot of a TopoDS_Solid.

    step_ids: (faces,) entity numbers in MapShapes order, or None. Volume is negative for a solid turned inside out.
    """
    faces_map, edges_map = TopTools_IndexedMapOfShape(), TopTools_IndexedDataMapOfShapeListOfShape()
    TopExp.MapShapes_s(solid, TopAbs_FACE, faces_map)
    TopExp.MapShapesAndAncestors_s(solid, TopAbs_EDGE, TopAbs_FACE, edges_map)
    shapes = [TopoDS.Face_s(faces_map.FindKey(i)) for i in range(1, faces_map.Extent() + 1)]
    surfaces, spans = zip(*(_surface(f, tol) for f in shapes), strict=True)
    uses: dict[int, list[tuple[int, bool]]] = {}
    loops = [_loops(f, i, edges_map, uses) for i, f in enumerate(shapes)]
    edges = tuple(
        _edge(i, TopoDS.Edge_s(edges_map.FindKey(i + 1)), uses.get(i, []), surfaces, shapes, tol)
        for i in range(edges_map.Extent())
    )
    areas, volume = _measures(shapes, surfaces, loops, edges)
    ids = step_ids if step_ids is not None else [None] * len(shapes)
    faces = tuple(Face(i, surfaces[i], loops[i], areas[i], ids[i], spans[i]) for i in range(len(shapes)))
    return Snapshot(faces, edges, volume, facets=_facets(shapes, surfaces))


def _xyz(p: Any) -> Vector:
    return (p.X(), p.Y(), p.Z())


def _surface(face: Any, tol: Tolerances) -> tuple[Surface, float]:
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
    z = _xyz(frame.Direction())
    # A left-handed frame's X x Y is -Z: the natural normal turns with it.
    flip = reversed_ == frame.Direct()
    return Surface("plane", _xyz(plane.Location()), (-z[0], -z[1], -z[2]) if flip else z)


def _round(kind: str, s: Any, hollow: bool) -> Surface:
    frame = s.Position()
    origin, axis = _xyz(frame.Location()), _xyz(frame.Direction())
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
    point, normal = _point_normal(adaptor, 0.5 * (u0 + u1), 0.5 * (v0 + v1), reversed_)
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
    grid = [[_xyz(adaptor.Value(u, v)) for v in _steps(v0, v1, 6)] for u in _steps(u0, u1, 6)]
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


def _point_normal(adaptor: Any, u: float, v: float, reversed_: bool) -> tuple[Vector, Vector]:
    p, du, dv = gp_Pnt(), gp_Vec(), gp_Vec()
    adaptor.D1(u, v, p, du, dv)
    n = cross(_xyz(du), _xyz(dv))
    if length(n) < 1e-12:
        return _xyz(p), (0.0, 0.0, 0.0)
    n = unit(n)
    return _xyz(p), (-n[0], -n[1], -n[2]) if reversed_ else n


def _span_of_points(face: Any, s: Surface) -> float:
    """Degrees round the axis that a face covers, from a grid of its parameters: the largest empty sector is left out."""
    adaptor, u0, u1, v0, v1 = _bounds(face)
    x, y = plane_axes(s.axis)
    rows = [(u, v) for u in _steps(u0, u1, 48) for v in _steps(v0, v1, 2)]
    rows += [(u, v) for u in _steps(u0, u1, 2) for v in _steps(v0, v1, 48)]  # either parameter may run round the axis
    angles = []
    for u, v in rows:
        rel = sub(_xyz(adaptor.Value(u, v)), s.origin)
        if length(cross(rel, s.axis)) > 1e-9:
            angles.append(atan2(dot(rel, y), dot(rel, x)) % (2 * pi))
    angles.sort()
    gaps = [b - a for a, b in zip(angles, angles[1:] + [angles[0] + 2 * pi], strict=True)]
    # A full turn leaves only the sampling step empty.
    return 360.0 if max(gaps) < 2 * pi / 40 else degrees(2 * pi - max(gaps))


def _loops(face: Any, index: int, edges_map: Any, uses: dict[int, list[tuple[int, bool]]]) -> tuple[Any, ...]:
    loops = []
    wires = TopExp_Explorer(face, TopAbs_WIRE)
    while wires.More():
        wire = TopoDS.Wire_s(wires.Current())
        loop = []
        walk = BRepTools_WireExplorer(wire, face)
        while walk.More():
            e = walk.Current()
            loop.append((edges_map.FindIndex(e) - 1, e.Orientation() != TopAbs_REVERSED))
            walk.Next()
        if not loop:  # a wire that the ordered walk cannot follow
            each = TopExp_Explorer(wire, TopAbs_EDGE)
            while each.More():
                e = each.Current()
                loop.append((edges_map.FindIndex(e) - 1, e.Orientation() != TopAbs_REVERSED))
                each.Next()
        for e, forward in loop:
            uses.setdefault(e, []).append((index, forward))
        loops.append(tuple(loop))
        wires.Next()
    return tuple(_outer_first(loops, face))


def _outer_first(loops: list[Any], face: Any) -> list[Any]:
    """Loops with the outer one first; wires come in file order, which is nearly always so already."""
    if len(loops) < 2:
        return loops
    from OCP.BRepTools import BRepTools

    outer = BRepTools.OuterWire_s(face)
    wires = TopExp_Explorer(face, TopAbs_WIRE)
    k = 0
    while wires.More():
        if wires.Current().IsSame(outer):
            return [loops[k], *loops[:k], *loops[k + 1 :]]
        k += 1
        wires.Next()
    return loops


def _edge(
    index: int, shape: Any, uses: list[tuple[int, bool]], surfaces: Sequence[Surface], faces: list[Any], tol: Tolerances
) -> Edge:
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
        name, points = "line", (_xyz(adaptor.Value(first)), _xyz(adaptor.Value(last)))
        size = distance(*points)
    elif curve == C.GeomAbs_Circle:
        circle = adaptor.Circle()
        centre, axis, radius = _xyz(circle.Location()), _xyz(circle.Axis().Direction()), circle.Radius()
        name, points, size = "circle", _arc(circle, first, last), radius * abs(last - first)
    else:
        name, points, size, centre, axis, radius = _free_curve(adaptor, first, last, tol)
    p, t = gp_Pnt(), gp_Vec()
    adaptor.D1(0.5 * (first + last), p, t)
    tangent = _safe_unit(_xyz(t))
    bend = _bend(shape, uses, surfaces, faces, _xyz(p), tangent, tol)
    seam = len(uses) == 2 and len(owners) == 1
    return Edge(index, name, points, size, owners, bend, seam, False, centre, axis, radius, tangent)


def _safe_unit(v: Vector) -> Vector:
    return unit(v) if length(v) > 1e-12 else (0.0, 0.0, 0.0)


def _vertex_point(edge: Any) -> Vector:
    return _xyz(BRep_Tool.Pnt_s(TopExp.FirstVertex_s(edge)))


def _arc(circle: Any, first: float, last: float) -> tuple[Vector, ...]:
    frame = circle.Position()
    c, x, y = _xyz(frame.Location()), _xyz(frame.XDirection()), _xyz(frame.YDirection())
    r = circle.Radius()
    n = max(2, ceil(degrees(abs(last - first)) / CHORD_DEG - 1e-9))
    out = []
    for i in range(n + 1):
        a = first + (last - first) * i / n
        ca, sa = r * cos(a), r * sin(a)
        out.append((c[0] + ca * x[0] + sa * y[0], c[1] + ca * x[1] + sa * y[1], c[2] + ca * x[2] + sa * y[2]))
    return tuple(out)


def _free_curve(adaptor: Any, first: float, last: float, tol: Tolerances) -> tuple[Any, ...]:
    """Sampled curve, named line or circle where its samples say so: (name, points, length, centre, axis, radius)."""
    n = FREE_CURVE_POINTS
    pts = tuple(_xyz(adaptor.Value(first + (last - first) * i / (n - 1))) for i in range(n))
    size = sum(distance(a, b) for a, b in zip(pts, pts[1:], strict=False))
    eps = tol.length_mm / 5
    chord = sub(pts[-1], pts[0])
    if length(chord) > eps:
        d = unit(chord)
        if all(length(cross(sub(p, pts[0]), d)) < eps for p in pts):
            return "line", (pts[0], pts[-1]), length(chord), None, None, 0.0
    circle = circle_through(pts[0], pts[n // 3], pts[2 * n // 3])
    if circle is not None:
        c, a, r = circle
        if r < 1e5 and all(abs(distance(p, c) - r) < eps and abs(dot(sub(p, c), a)) < eps for p in pts):
            sweep = sum(_angle(sub(p, c), sub(q, c)) for p, q in zip(pts, pts[1:], strict=False))
            return "circle", pts, r * sweep, c, a, r
    return "curve", pts, size, None, None, 0.0


def _angle(a: Vector, b: Vector) -> float:
    return acos(max(-1.0, min(1.0, dot(a, b) / (length(a) * length(b) or 1.0))))


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
    x = cross(na, nb)
    size = degrees(atan2(length(x), dot(na, nb)))
    if size < tol.smooth_deg:
        return 0.0
    turn = dot(x, tangent) if forward else -dot(x, tangent)
    if size > KNIFE_DEG:
        return size  # faces back to back: material runs out to a knife's edge; a crack of no width is no cut's work
    return size if turn > 0 else -size


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
        _, n = _point_normal(BRepAdaptor_Surface(face, False), uv.X(), uv.Y(), face.Orientation() == TopAbs_REVERSED)
    except Exception:  # a missing pcurve is odd geometry, not our error: the edge stays unknown
        return None
    return n if length(n) > 0.5 else None


def _measures(
    shapes: list[Any], surfaces: Sequence[Surface], loops: list[Any], edges: tuple[Edge, ...]
) -> tuple[list[float], float]:
    """Areas in mm2, and the volume by the divergence theorem: a third of the sum of (p . n) dA."""
    areas: list[float] = []
    volume = 0.0
    for shape, surface, loop in zip(shapes, surfaces, loops, strict=True):
        area = _plane_area(surface, loop, edges) if surface.kind == "plane" else None
        flux: float | None
        if area is not None:
            flux = surface.offset * area
        else:
            free = BRepAdaptor_Surface(shape, False).GetType() not in ELEMENTARY
            props = GProp_GProps()
            BRepGProp.SurfaceProperties_s(shape, props, *([MEASURE_EPS] if free else []))
            area = abs(props.Mass())
            flux = _flux(surface, area, _xyz(props.CentreOfMass()))
            if flux is None:
                # Not VolumeProperties: for a lone face that takes the volume over the face's own middle, not the origin.
                cone = (BRepGProp_Face(shape, False), BRepGProp_Domain(shape), gp_Pnt(0.0, 0.0, 0.0))
                flux = 3 * BRepGProp_Vinert(*cone, *([MEASURE_EPS] if free else [])).Mass()
        areas.append(area)
        volume += flux / 3
    return areas, volume


def _flux(surface: Surface, area: float, centroid: Vector) -> float | None:
    """Integral of (p . n) over a face whose normal is radial, from its area and centroid; None elsewhere."""
    if surface.kind == "plane":
        return surface.offset * area
    if surface.kind not in ("cylinder", "sphere"):
        return None
    off = sub(centroid, surface.origin)
    if surface.kind == "cylinder":
        off = sub(off, scale(surface.axis, dot(off, surface.axis)))
    # On p = c + R r the product p . r is c . r + R, and the mean of r is (centroid - c) / R across the axis.
    value = area * (dot(surface.origin, off) / surface.radius + surface.radius)
    return -value if surface.hollow else value


def _plane_area(surface: Surface, loops: Any, edges: tuple[Edge, ...]) -> float | None:
    """Exact area of a plane face bounded by lines and arcs; None where another curve bounds it."""
    n, o = surface.axis, surface.origin
    total = 0.0
    for loop in loops:
        for index, forward in loop:
            e = edges[index]
            if e.curve not in ("line", "circle", "degenerate"):
                return None
            a, b = sub(e.start, o), sub(e.end, o)
            twice = dot(cross(a, b), n)
            if e.curve == "circle" and e.axis is not None:
                # Chord plus segment: the whole sector's sweep without the chord triangle about the centre.
                sweep = e.length / e.radius
                turn = 1.0 if dot(cross(sub(e.start, e.centre), sub(e.points[1], e.start)), n) > 0 else -1.0  # type: ignore[arg-type]
                twice += turn * e.radius * e.radius * (sweep - sin(sweep))
            total += twice if forward else -twice
    return abs(total) / 2


def _facets(shapes: list[Any], surfaces: Sequence[Surface]) -> dict[int, tuple[Any, ...]]:
    """Triangles of the curved faces; planes need none, and their many inner loops are what makes meshing dear."""
    out = {}
    for i, (shape, surface) in enumerate(zip(shapes, surfaces, strict=True)):
        if surface.kind == "plane":
            continue
        BRepMesh_IncrementalMesh(shape, 0.1, True, FACET_ANGLE_RAD, False)
        where = TopLoc_Location()
        mesh = BRep_Tool.Triangulation_s(shape, where)
        if mesh is None:
            continue
        nodes = (mesh.Node(k) for k in range(1, mesh.NbNodes() + 1))
        if not where.IsIdentity():
            move = where.Transformation()
            nodes = (node.Transformed(move) for node in nodes)
        pts = [_xyz(node) for node in nodes]
        tris = (mesh.Triangle(k).Get() for k in range(1, mesh.NbTriangles() + 1))
        out[i] = tuple((pts[a - 1], pts[b - 1], pts[c - 1]) for a, b, c in tris)
    return out
