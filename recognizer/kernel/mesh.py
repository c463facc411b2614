"""Kernel solid -> Mesh: triangles by face and lines by edge, for pictures and the page."""

from __future__ import annotations

from typing import Any

import numpy as np
from OCP.Bnd import Bnd_Box
from OCP.BRep import BRep_Tool
from OCP.BRepBndLib import BRepBndLib
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_REVERSED
from OCP.TopExp import TopExp
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS
from OCP.TopTools import TopTools_IndexedDataMapOfShapeListOfShape, TopTools_IndexedMapOfShape

from recognizer.kernel.meshing import triangulate
from shared.mesh import Mesh

DEVIATION_SHARE = 0.0005
"""Deviation of the triangles as a share of the part's diagonal: half a pixel on a screen 1000 pixels high."""
ANGLE_RAD = 0.35
"""Longest step round a curve: 18 to a circle. Finer steps are for what the deviation asks for: 0.25 took twice as long
on a plate of 1,000 faces, and no difference was to be seen."""


def mesh_of(shape: Any) -> Mesh:
    """Mesh of a TopoDS_Solid; face and edge indices are those of its snapshot."""
    box = Bnd_Box()
    BRepBndLib.Add_s(shape, box, False)
    deviation = DEVIATION_SHARE * box.CornerMin().Distance(box.CornerMax())
    faces = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(shape, TopAbs_FACE, faces)
    triangulate(shape, deviation, ANGLE_RAD)
    points, triangles, owners = _triangles(faces)
    lines, starts, edges = _lines(shape)
    return Mesh(points, triangles, owners, lines, starts, edges, deviation)


def _triangles(faces: Any) -> tuple[Any, Any, Any]:
    points: list[Any] = [np.zeros((0, 3))]
    triangles: list[Any] = [np.zeros((0, 3), np.int64)]
    owners: list[Any] = [np.zeros(0, np.int64)]
    first = 0
    for index in range(faces.Extent()):
        face = TopoDS.Face_s(faces.FindKey(index + 1))
        place = TopLoc_Location()
        mesh = BRep_Tool.Triangulation_s(face, place)
        if mesh is None:
            continue  # a face too small for a triangle
        move = place.Transformation()
        nodes = (mesh.Node(n) for n in range(1, mesh.NbNodes() + 1))
        if not place.IsIdentity():
            nodes = (node.Transformed(move) for node in nodes)
        points.append(np.array([(p.X(), p.Y(), p.Z()) for p in nodes]))
        corners = np.array([mesh.Triangle(n).Get() for n in range(1, mesh.NbTriangles() + 1)]) - 1 + first
        turned = (face.Orientation() == TopAbs_REVERSED) != move.IsNegative()
        triangles.append(corners[:, ::-1] if turned else corners)
        owners.append(np.full(len(corners), index))
        first += mesh.NbNodes()
    return np.concatenate(points), np.concatenate(triangles), np.concatenate(owners)


def _lines(shape: Any) -> tuple[Any, Any, Any]:
    """The edges' lines, taken from the triangulation of one of their faces so that both fit together."""
    owners = TopTools_IndexedDataMapOfShapeListOfShape()
    TopExp.MapShapesAndAncestors_s(shape, TopAbs_EDGE, TopAbs_FACE, owners)
    points: list[tuple[float, float, float]] = []
    starts, edges = [0], []
    for index in range(owners.Extent()):
        edge = TopoDS.Edge_s(owners.FindKey(index + 1))
        if BRep_Tool.Degenerated_s(edge):
            continue
        line = _line(edge, TopoDS.Face_s(owners.FindFromIndex(index + 1).First()))
        if len(line) > 1:
            points += line
            starts.append(len(points))
            edges.append(index)
    return np.array(points).reshape(-1, 3), np.array(starts), np.array(edges, np.int64)


def _line(edge: Any, face: Any) -> list[tuple[float, float, float]]:
    place = TopLoc_Location()
    mesh = BRep_Tool.Triangulation_s(face, place)
    polygon = BRep_Tool.PolygonOnTriangulation_s(edge, mesh, place) if mesh else None
    if polygon is None:
        return []
    move = place.Transformation()
    nodes = (mesh.Node(polygon.Node(n)).Transformed(move) for n in range(1, polygon.NbNodes() + 1))
    return [(p.X(), p.Y(), p.Z()) for p in nodes]
