"""Pockets, slots, steps and undercuts: a box of air whose sides are open or closed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cadquery as cq

from models.cutting.frame import (
    AXES,
    SIDES,
    Vec,
    axis_of,
    box,
    cylinder,
    opposite,
    rounded_prism,
    rounded_ring_area,
    sides_of_edge,
    sign_of,
)
from models.cutting.workpiece import Workpiece

OVERCUT = 5.0
ROUND_CORNER = 1 - math.pi / 4  # what a rounded right corner of radius 1 leaves standing
CORNER_CENTROID = (10 - 3 * math.pi) / (12 - 3 * math.pi)  # distance of that area's centroid from each wall


@dataclass(frozen=True)
class Island:
    """Material left standing in a pocket, as high as the pocket's mouth: a box, or a round one of a diameter."""

    low: tuple[float, float]
    high: tuple[float, float]
    corner_radius: float = 0.0

    def area(self) -> float:
        """Its area seen along the pocket's direction."""
        return (self.high[0] - self.low[0]) * (self.high[1] - self.low[1]) - 4 * ROUND_CORNER * self.corner_radius**2


def pocket(
    work: Workpiece,
    name: str,
    low: Vec,
    high: Vec,
    side: str,
    open_sides: Sequence[str] = (),
    through: bool = False,
    corner_radius: float = 0.0,
    floor_radius: float = 0.0,
    islands: Sequence[Island] = (),
    directions: Sequence[str] | None = None,
) -> None:
    """Cut the box low..high from `side`; its other sides are closed but for `open_sides`.

    Corners between closed sides get `corner_radius`, the floor along closed sides `floor_radius`. Islands are given in
    the two axes across a z-direction. `directions` replaces the usual list where an open side does not lead out.
    """
    tool = _tool(work, low, high, side, open_sides, through, corner_radius, floor_radius)
    area = _extent(low, high, side)[0] * _extent(low, high, side)[1]
    corners = _rounded_corners(side, open_sides) if corner_radius else 0
    area -= corners * ROUND_CORNER * corner_radius**2
    for island in islands:
        tool = tool.cut(_island(island, low, high))
        area -= island.area()
    depth = high[axis_of(side)] - low[axis_of(side)]
    left = _floor_left(low, high, side, open_sides, corner_radius, floor_radius)
    work.remove(tool, area * depth - left)
    seen = [side, *([opposite(side)] if through else []), *open_sides]
    work.add(
        name,
        _kind(open_sides),
        directions if directions is not None else seen,
        _dimensions(low, high, side, open_sides, corner_radius, floor_radius),
        open_sides=len(open_sides),
        closed_sides=4 - len(open_sides),
        bottom_condition="through" if through else "planar",
    )


def _kind(open_sides: Sequence[str]) -> str:
    """The kind that the sides decide (design, section 1)."""
    if not open_sides:
        return "closed_pocket"
    if len(open_sides) == 3:
        return "step"
    facing = len(open_sides) == 2 and axis_of(open_sides[0]) == axis_of(open_sides[1])
    return "slot" if facing else "open_pocket"


def _extent(low: Vec, high: Vec, side: str) -> tuple[float, float]:
    across = [axis for axis in range(3) if axis != axis_of(side)]
    return (high[across[0]] - low[across[0]], high[across[1]] - low[across[1]])


def _dimensions(
    low: Vec, high: Vec, side: str, open_sides: Sequence[str], corner_radius: float, floor_radius: float
) -> dict[str, float]:
    first, second = _extent(low, high, side)
    length, width = max(first, second), min(first, second)
    if len(open_sides) == 3:  # a step: length along its wall
        wall = next(s for s in SIDES if axis_of(s) != axis_of(side) and s not in open_sides)
        width = high[axis_of(wall)] - low[axis_of(wall)]
        length = first + second - width
    axis = axis_of(side)
    found = {"length": length, "width": width, "depth": high[axis] - low[axis]}
    if corner_radius:
        found["corner_radius"] = corner_radius
    if floor_radius:
        found["floor_radius"] = floor_radius
    return found


def _rounded_corners(side: str, open_sides: Sequence[str]) -> int:
    closed = [s for s in SIDES if axis_of(s) != axis_of(side) and s not in open_sides]
    return sum(axis_of(a) < axis_of(b) for a in closed for b in closed)


def _tool(
    work: Workpiece,
    low: Vec,
    high: Vec,
    side: str,
    open_sides: Sequence[str],
    through: bool,
    corner_radius: float,
    floor_radius: float,
) -> cq.Shape:
    """The air that is cut, reaching beyond the block where it opens out of it."""
    tool = box(low, high)
    closed = [s for s in SIDES if axis_of(s) != axis_of(side) and s not in open_sides]
    if corner_radius:
        edges = [e for e in tool.Edges() if len(sides_of_edge(e, low, high) & set(closed)) == 2]
        tool = tool.fillet(corner_radius, edges)
    if floor_radius:
        floor = opposite(side)
        edges = [e for e in tool.Edges() if floor in (on := sides_of_edge(e, low, high)) and not on & set(open_sides)]
        tool = tool.fillet(floor_radius, edges)
    shape: cq.Shape = tool
    for way in [side, *open_sides, *([opposite(side)] if through else [])]:
        shape = _longer(work, shape, low, high, way)
    return shape


def _longer(work: Workpiece, tool: cq.Shape, low: Vec, high: Vec, way: str) -> cq.Shape:
    """The tool drawn out beyond the block at an opening that lies on the block's side."""
    axis, sign = axis_of(way), sign_of(way)
    level = high[axis] if sign > 0 else low[axis]
    if abs(level - (work.size[axis] if sign > 0 else 0.0)) > 1e-9:
        return tool
    ends = [
        face
        for face in tool.Faces()
        if face.geomType() == "PLANE"
        and abs(face.Center().toTuple()[axis] - level) < 1e-6
        and abs(abs(face.normalAt().toTuple()[axis]) - 1) < 1e-6
    ]
    reach = [0.0, 0.0, 0.0]
    reach[axis] = sign * OVERCUT
    for face in ends:
        tool = tool.fuse(cq.Solid.extrudeLinear(face, cq.Vector(*reach)))
    return tool


def _island(island: Island, low: Vec, high: Vec) -> cq.Shape:
    solid = box((*island.low, low[2] - OVERCUT), (*island.high, high[2] + 2 * OVERCUT))
    return solid.fillet(island.corner_radius, solid.edges("|Z").Edges()) if island.corner_radius else solid


def _floor_left(
    low: Vec, high: Vec, side: str, open_sides: Sequence[str], corner_radius: float, floor_radius: float
) -> float:
    """Volume left by the floor radius of a closed pocket: the fillet's area times its centroid's path (Pappus)."""
    if not floor_radius:
        return 0.0
    if open_sides:
        raise ValueError("a floor radius is only booked for closed pockets")
    first, second = _extent(low, high, side)
    straight = 2 * (first + second) - 8 * corner_radius
    around = 2 * math.pi * (corner_radius - CORNER_CENTROID * floor_radius)
    return ROUND_CORNER * floor_radius**2 * (straight + around)


def shaped_pocket(
    work: Workpiece,
    name: str,
    points: list[tuple[float, float]],
    radii: list[float],
    bottom: float,
    top: float,
    through: bool = False,
) -> None:
    """A closed pocket from +z over a counter-clockwise polygon with rounded corners."""
    beneath = OVERCUT if through else 0.0
    tool = rounded_prism(points, radii, bottom - beneath, top + OVERCUT)
    work.remove(tool, rounded_ring_area(points, radii) * (top - bottom))
    bounds = tool.BoundingBox()
    dimensions = {
        "length": round(max(bounds.xlen, bounds.ylen), 4),
        "width": round(min(bounds.xlen, bounds.ylen), 4),
        "depth": top - bottom,
    }
    if min(radii) > 0:
        dimensions["corner_radius"] = min(radii)
    work.add(
        name,
        "closed_pocket",
        ["+z", "-z"] if through else ["+z"],
        dimensions,
        open_sides=0,
        closed_sides=len(points),
        bottom_condition="through" if through else "planar",
    )


def ring_groove(
    work: Workpiece, name: str, center: Vec, side: str, diameter: float, inner_diameter: float, depth: float
) -> None:
    """A ring groove in a plane face: a closed pocket round an island. `center` lies in the face."""
    tool = cylinder(center, side, diameter, depth).cut(cylinder(center, side, inner_diameter, depth))
    work.remove(tool, math.pi / 4 * (diameter**2 - inner_diameter**2) * depth)
    dimensions = {"length": diameter, "width": diameter, "depth": depth}
    work.add(name, "closed_pocket", [side], dimensions, open_sides=0, closed_sides=1, bottom_condition="planar")


def tee_slot(
    work: Workpiece,
    name: str,
    axis: str,
    center: float,
    neck: float,
    neck_depth: float,
    foot: float,
    foot_height: float,
) -> None:
    """A tee slot from +z, right through along x or y, its middle at `center` on the other axis."""
    top = work.size[2]
    length = work.size[AXES.index(axis)]
    for width, upper, lower in (
        (neck, top + OVERCUT, top - neck_depth),
        (foot, top - neck_depth, top - neck_depth - foot_height),
    ):
        work.solid = work.solid.cut(_bar(axis, length, center - width / 2, center + width / 2, lower, upper))
    work.less(length * (neck * neck_depth + foot * foot_height))
    dimensions = {"width": neck, "depth": neck_depth + foot_height, "foot_width": foot, "foot_height": foot_height}
    work.add(name, "undercut", ["+z"], dimensions | {"length": length})


def _bar(axis: str, length: float, low: float, high: float, bottom: float, top: float) -> cq.Solid:
    if axis == "x":
        return box((-OVERCUT, low, bottom), (length + OVERCUT, high, top))
    return box((low, -OVERCUT, bottom), (high, length + OVERCUT, top))


def dovetail(work: Workpiece, name: str, center: float, mouth: float, depth: float, flank_angle: float = 60.0) -> None:
    """A dovetail slot from +z, right through along x; `mouth` is its width at the top, the floor is wider."""
    top, length = work.size[2], work.size[0]
    wider = depth / math.tan(math.radians(flank_angle))
    half = mouth / 2
    profile = [
        (center - half, top + 1.0),
        (center - half, top),
        (center - half - wider, top - depth),
        (center + half + wider, top - depth),
        (center + half, top),
        (center + half, top + 1.0),
    ]
    tool = cq.Workplane("YZ", origin=(-OVERCUT, 0, 0)).polyline(profile).close().extrude(length + 2 * OVERCUT).val()
    assert isinstance(tool, cq.Shape)
    work.remove(tool, length * depth * (mouth + wider))
    dimensions = {"length": length, "width": mouth, "depth": depth, "flank_angle": flank_angle}
    work.add(name, "undercut", ["+z"], dimensions)
