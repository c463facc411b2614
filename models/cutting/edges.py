"""Chamfers and rounds on outer edges."""

from __future__ import annotations

import math

import cadquery as cq

from models.cutting.frame import AXES, Vec, axis_of, sides_of_edge, vector_of
from models.cutting.workpiece import Workpiece


def bevel_edge(work: Workpiece, name: str, first: str, second: str, width: float) -> None:
    """A 45 degree chamfer along the block's whole straight edge between two sides."""
    edge = _whole_edge(work, first, second)
    work.solid = work.solid.Solids()[0].chamfer(width, None, [edge])
    work.less(edge.Length() * width**2 / 2)
    half = math.sqrt(0.5)
    one, other = vector_of(first), vector_of(second)
    square = (half * (one[0] + other[0]), half * (one[1] + other[1]), half * (one[2] + other[2]))
    seen: list[str | Vec] = [*_seen(first, second), square]
    work.add(name, "chamfer", seen, {"width": width, "angle": 45.0})


def round_edge(work: Workpiece, name: str, first: str, second: str, radius: float) -> None:
    """A round along the block's whole straight edge between two sides."""
    edge = _whole_edge(work, first, second)
    work.solid = work.solid.Solids()[0].fillet(radius, [edge])
    work.less(edge.Length() * (1 - math.pi / 4) * radius**2)
    work.add(name, "edge_round", _seen(first, second), {"radius": radius})


def bevel_outline(work: Workpiece, name: str, side: str, width: float) -> None:
    """A 45 degree chamfer round the whole smooth outline of the top or bottom face: one tangent chain.

    Its volume is the triangle's area times the path of its centroid (Pappus): a third of the width inside the
    outline, so shorter than it by a full turn of that.
    """
    level = work.size[2] if side == "+z" else 0.0
    faces = [
        face
        for face in work.solid.Faces()
        if face.geomType() == "PLANE" and abs(face.Center().z - level) < 1e-6 and abs(face.normalAt().z) > 0.999
    ]
    ring = max(faces, key=lambda face: face.Area()).outerWire()
    perimeter = ring.Length()
    work.solid = work.solid.Solids()[0].chamfer(width, None, ring.Edges())
    work.less(width**2 / 2 * (perimeter - 2 * math.pi * width / 3))
    work.add(name, "chamfer", [side], {"width": width, "angle": 45.0})


def _along(first: str, second: str) -> int:
    return 3 - axis_of(first) - axis_of(second)


def _seen(first: str, second: str) -> list[str]:
    """The two faces that the edge joins, and both ways along it."""
    axis = AXES[_along(first, second)]
    return [first, second, "+" + axis, "-" + axis]


def _whole_edge(work: Workpiece, first: str, second: str) -> cq.Edge:
    """The one edge on two sides of the block; it must not be cut apart, or one entry would not be true."""
    corner = (0.0, 0.0, 0.0)
    edges = [e for e in work.solid.Edges() if {first, second} <= sides_of_edge(e, corner, work.size)]
    if len(edges) != 1:
        raise ValueError(f"{work.part}: the edge {first} {second} is in {len(edges)} pieces")
    return edges[0]
