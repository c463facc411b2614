"""Kernel solid -> Snapshot: one pass over faces and edges, then no kernel object is left."""

from __future__ import annotations

from collections.abc import Sequence
from math import sin
from typing import Any

from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepBuilderAPI import BRepBuilderAPI_NurbsConvert
from OCP.BRepGProp import BRepGProp, BRepGProp_Domain, BRepGProp_Face, BRepGProp_Vinert
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools_WireExplorer
from OCP.GeomAbs import GeomAbs_SurfaceType
from OCP.gp import gp_Pnt
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_REVERSED, TopAbs_WIRE
from OCP.TopExp import TopExp, TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS
from OCP.TopTools import TopTools_IndexedDataMapOfShapeListOfShape, TopTools_IndexedMapOfShape

from recognizer.facets import Corners
from recognizer.kernel.edges import edge_of
from recognizer.kernel.surfaces import ELEMENTARY, point_normal, surface_of, xyz
from recognizer.snapshot import Edge, Face, Snapshot, Surface, Triangles
from recognizer.vector import cross, dot, scale, sub
from shared.tolerances import DEFAULT, Tolerances
from shared.units import Vector

FORMULAS = ("cylinder", "cone", "sphere", "torus")
"""Surfaces whose normals need no mesh."""
SWEPT = (GeomAbs_SurfaceType.GeomAbs_SurfaceOfExtrusion, GeomAbs_SurfaceType.GeomAbs_SurfaceOfRevolution)

LARGE_SHARE, LARGE_FINER = 0.01, 0.25
"""Free forms that are more of the part's skin than this get facets so much smaller: no formula says where their surface
lies between the corners, and what they miss adds up over a large face."""
FACET_ANGLE_RAD = 0.2
MEASURE_EPS = 1e-5
"""Relative error of areas and volumes of free forms: the kernel's plain rule is 0.3 % off on rational splines."""


def snapshot_of(solid: Any, step_ids: Sequence[int | None] | None = None, tol: Tolerances = DEFAULT) -> Snapshot:
    """Snapshot of a TopoDS_Solid.

    step_ids: (faces,) entity numbers in MapShapes order, or None. Volume is negative for a solid turned inside out.
    """
    faces_map, edges_map = TopTools_IndexedMapOfShape(), TopTools_IndexedDataMapOfShapeListOfShape()
    TopExp.MapShapes_s(solid, TopAbs_FACE, faces_map)
    TopExp.MapShapesAndAncestors_s(solid, TopAbs_EDGE, TopAbs_FACE, edges_map)
    shapes = [TopoDS.Face_s(faces_map.FindKey(i)) for i in range(1, faces_map.Extent() + 1)]
    surfaces, spans = zip(*(surface_of(f, tol) for f in shapes), strict=True)
    uses: dict[int, list[tuple[int, bool]]] = {}
    loops = [_loops(f, i, edges_map, uses) for i, f in enumerate(shapes)]
    edges = tuple(
        edge_of(i, TopoDS.Edge_s(edges_map.FindKey(i + 1)), uses.get(i, []), surfaces, shapes, tol)
        for i in range(edges_map.Extent())
    )
    areas, volume = _measures(shapes, surfaces, loops, edges)
    ids = step_ids if step_ids is not None else [None] * len(shapes)
    faces = tuple(Face(i, surfaces[i], loops[i], areas[i], ids[i], spans[i]) for i in range(len(shapes)))
    facets, normals = _facets(shapes, surfaces, areas)
    return Snapshot(faces, edges, volume, facets=facets, normals=normals)


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
            kind = BRepAdaptor_Surface(shape, False).GetType()
            # The kernel steps over knots of a swept curve, and over those of the curves round a plane by its plain rule.
            shape = _as_splines(shape) if kind in SWEPT else shape
            free = kind not in ELEMENTARY or surface.kind == "plane"
            props = GProp_GProps()
            BRepGProp.SurfaceProperties_s(shape, props, *([MEASURE_EPS] if free else []))
            area = abs(props.Mass())
            flux = _flux(surface, area, xyz(props.CentreOfMass()))
            if flux is None:
                # Not VolumeProperties: for a lone face that takes the volume over the face's own middle, not the origin.
                cone = (BRepGProp_Face(shape, False), BRepGProp_Domain(shape), gp_Pnt(0.0, 0.0, 0.0))
                flux = 3 * BRepGProp_Vinert(*cone, *([MEASURE_EPS] if free else [])).Mass()
        areas.append(area)
        volume += flux / 3
    return areas, volume


def _as_splines(shape: Any) -> Any:
    """A face with its surface and curves as B-splines, whose knots the kernel's integrals respect."""
    face = TopoDS.Face_s(BRepBuilderAPI_NurbsConvert(shape, True).Shape())
    face.Orientation(shape.Orientation())
    return face


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


def _facets(shapes: list[Any], surfaces: Sequence[Surface], areas: list[float]) -> tuple[Triangles, Triangles]:
    """Triangles of the curved faces, seen from outside anticlockwise, and the outward normals at the corners of those of
    free forms. Planes need none, and their many inner loops are what makes meshing dear.
    """
    facets: dict[int, Corners] = {}
    normals: dict[int, Corners] = {}
    for i, (shape, surface) in enumerate(zip(shapes, surfaces, strict=True)):
        if surface.kind == "plane":
            continue
        large = surface.kind not in FORMULAS and areas[i] > LARGE_SHARE * sum(areas)
        fine = LARGE_FINER if large else 1.0
        BRepMesh_IncrementalMesh(shape, 0.1 * fine**2, True, FACET_ANGLE_RAD * fine, False)
        where = TopLoc_Location()
        mesh = BRep_Tool.Triangulation_s(shape, where)
        if mesh is None:
            continue
        nodes = (mesh.Node(k) for k in range(1, mesh.NbNodes() + 1))
        if not where.IsIdentity():
            move = where.Transformation()
            nodes = (node.Transformed(move) for node in nodes)
        pts = [xyz(node) for node in nodes]
        tris = [mesh.Triangle(k).Get() for k in range(1, mesh.NbTriangles() + 1)]
        if shape.Orientation() == TopAbs_REVERSED:
            tris = [(a, c, b) for a, b, c in tris]
        facets[i] = tuple((pts[a - 1], pts[b - 1], pts[c - 1]) for a, b, c in tris)
        if surface.kind not in FORMULAS and mesh.HasUVNodes():
            n = _corner_normals(shape, mesh)
            normals[i] = tuple((n[a - 1], n[b - 1], n[c - 1]) for a, b, c in tris)
    return facets, normals


def _corner_normals(shape: Any, mesh: Any) -> list[Vector]:
    """Outward unit normals at a mesh's nodes; zero where the surface has none."""
    adaptor, reversed_ = BRepAdaptor_Surface(shape, False), shape.Orientation() == TopAbs_REVERSED
    places = (mesh.UVNode(k) for k in range(1, mesh.NbNodes() + 1))
    return [point_normal(adaptor, uv.X(), uv.Y(), reversed_)[1] for uv in places]
