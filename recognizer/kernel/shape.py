"""Kernel solid -> Shape: one closed mesh over all its faces."""

from __future__ import annotations

from typing import Any

import numpy as np
from OCP.BRep import BRep_Tool
from OCP.BRepTools import BRepTools
from OCP.TopAbs import TopAbs_FACE, TopAbs_REVERSED
from OCP.TopExp import TopExp
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS
from OCP.TopTools import TopTools_IndexedMapOfShape

from recognizer.kernel.meshing import triangulate
from recognizer.kernel.surfaces import xyz
from shared.shape import DEFLECTION, Shape

ANGLE_RAD = 0.2
WELD = 5
"""Decimals to which points are taken for one: faces give a shared edge's points with the last bits of their own."""


def shape_or_none(solid: Any) -> Shape | None:
    """Shape of a TopoDS_Solid; None where the kernel cannot mesh it."""
    try:
        return shape_of(solid)
    except RuntimeError:  # what the kernel's own exceptions are
        return None


def shape_of(solid: Any, deflection: float = DEFLECTION) -> Shape:
    """Closed mesh of a TopoDS_Solid; faces in TopExp.MapShapes order. A face that cannot be meshed leaves a hole."""
    BRepTools.Clean_s(solid)  # the coarse facets of single faces do not meet at their edges
    triangulate(solid, deflection, ANGLE_RAD)
    faces_map = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(solid, TopAbs_FACE, faces_map)
    points: list[tuple[float, float, float]] = []
    triangles: list[tuple[int, int, int]] = []
    faces: list[int] = []
    for i in range(faces_map.Extent()):
        face = TopoDS.Face_s(faces_map.FindKey(i + 1))
        where = TopLoc_Location()
        mesh = BRep_Tool.Triangulation_s(face, where)
        if mesh is None:
            continue
        move, first = where.Transformation(), len(points) - 1
        points += [xyz(mesh.Node(k).Transformed(move)) for k in range(1, mesh.NbNodes() + 1)]
        turned = face.Orientation() == TopAbs_REVERSED
        for k in range(1, mesh.NbTriangles() + 1):
            a, b, c = mesh.Triangle(k).Get()
            triangles.append((first + a, first + c, first + b) if turned else (first + a, first + b, first + c))
        faces += [i] * mesh.NbTriangles()
    return _welded(np.array(points).reshape(-1, 3), np.array(triangles).reshape(-1, 3), np.array(faces), deflection)


def _welded(points: np.ndarray, triangles: np.ndarray, faces: np.ndarray, deflection: float) -> Shape:
    _, first, place = np.unique(np.round(points, WELD), axis=0, return_index=True, return_inverse=True)
    triangles = place.reshape(-1)[triangles]
    a, b, c = triangles.T
    real = (a != b) & (b != c) & (c != a)
    return Shape(points[first], triangles[real], faces[real], deflection)
