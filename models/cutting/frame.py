"""Directions by name, boxes by two corners, and prisms along an axis, for the demo parts.

Lengths are mm. A side is named "+x", "-x", ... "-z": the direction from the part towards the tool.
"""

from __future__ import annotations

import math

import cadquery as cq

Vec = tuple[float, float, float]
AXES = "xyz"
SIDES = ("+x", "-x", "+y", "-y", "+z", "-z")


def axis_of(side: str) -> int:
    """The axis of a side: 0, 1 or 2."""
    return AXES.index(side[1])


def sign_of(side: str) -> int:
    """+1 or -1: which way along its axis a side faces."""
    return 1 if side[0] == "+" else -1


def vector_of(side: str) -> Vec:
    """The unit vector of a side."""
    vector = [0.0, 0.0, 0.0]
    vector[axis_of(side)] = float(sign_of(side))
    return (vector[0], vector[1], vector[2])


def opposite(side: str) -> str:
    """The side that faces the other way."""
    return ("-" if side[0] == "+" else "+") + side[1]


def shifted(point: Vec, side: str, distance: float) -> Vec:
    """The point moved `distance` along the side's direction."""
    moved = list(point)
    moved[axis_of(side)] += sign_of(side) * distance
    return (moved[0], moved[1], moved[2])


def box(low: Vec, high: Vec) -> cq.Solid:
    """The axis-aligned box between two corners."""
    size = [h - b for b, h in zip(low, high, strict=True)]
    if min(size) <= 0:
        raise ValueError(f"a box from {low} to {high} is empty: give the low corner first")
    return cq.Solid.makeBox(size[0], size[1], size[2], cq.Vector(*low))


def cylinder(mouth: Vec, side: str, diameter: float, depth: float) -> cq.Solid:
    """A cylinder from its mouth inwards, against the side's direction."""
    inwards = cq.Vector(*vector_of(opposite(side)))
    return cq.Solid.makeCylinder(diameter / 2, depth, cq.Vector(*mouth), inwards)


def cone(mouth: Vec, side: str, diameter: float, end_diameter: float, depth: float) -> cq.Solid:
    """A cone from its mouth inwards, against the side's direction; `end_diameter` 0 is a drill's point."""
    inwards = cq.Vector(*vector_of(opposite(side)))
    return cq.Solid.makeCone(diameter / 2, end_diameter / 2, depth, cq.Vector(*mouth), inwards)


def sides_of_edge(edge: cq.Edge, low: Vec, high: Vec) -> set[str]:
    """The sides of a box on which a whole edge of it lies."""
    bounds = edge.BoundingBox()
    ends = ((bounds.xmin, bounds.xmax), (bounds.ymin, bounds.ymax), (bounds.zmin, bounds.zmax))
    found = set()
    for axis, (least, most) in enumerate(ends):
        if abs(least - high[axis]) < 1e-4:
            found.add("+" + AXES[axis])
        if abs(most - low[axis]) < 1e-4:
            found.add("-" + AXES[axis])
    return found


def rounded_ring_area(points: list[tuple[float, float]], radii: list[float]) -> float:
    """Area of a counter-clockwise polygon with rounded corners: shoelace formula, less
    r2 (tan(t/2) - t/2) at a corner that turns by t.
    """
    area = 0.0
    for index, (x, y) in enumerate(points):
        before, after = points[index - 1], points[(index + 1) % len(points)]
        area += (x * after[1] - after[0] * y) / 2
        turn = math.atan2(after[1] - y, after[0] - x) - math.atan2(y - before[1], x - before[0])
        turn = math.remainder(turn, 2 * math.pi)  # above 0 at a convex corner, below at a concave one
        area -= math.copysign(radii[index] ** 2 * (math.tan(abs(turn) / 2) - abs(turn) / 2), turn)
    return area


def rounded_prism(points: list[tuple[float, float]], radii: list[float], bottom: float, top: float) -> cq.Solid:
    """A prism along z over a polygon whose corners have the given radii (0 is sharp)."""
    prism = cq.Workplane("XY", origin=(0, 0, bottom)).polyline(points).close().extrude(top - bottom).val()
    assert isinstance(prism, cq.Shape)
    solid = prism.Solids()[0]
    for radius in sorted(set(radii) - {0.0}):
        corners = [point for point, wanted in zip(points, radii, strict=True) if wanted == radius]
        uprights = [
            edge
            for edge in solid.Edges()
            if edge.geomType() == "LINE"
            and abs(edge.startPoint().z - edge.endPoint().z) > 1e-6
            and any(math.dist(corner, edge.startPoint().toTuple()[:2]) < 1e-6 for corner in corners)
        ]
        solid = solid.fillet(radius, uprights).Solids()[0]
    return solid
