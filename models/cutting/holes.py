"""Holes: each call cuts equal holes at the given mouths and notes them as one entry."""

from __future__ import annotations

import math
from collections.abc import Sequence

import cadquery as cq

from models.cutting.frame import Vec, axis_of, cone, cylinder, opposite, shifted
from models.cutting.workpiece import Workpiece

LEAD = 1.0  # the tool starts this far outside, so that no skin is left at the mouth


def disc(diameter: float) -> float:
    """Area of a circle."""
    return math.pi * diameter**2 / 4


def frustum(diameter: float, end_diameter: float, depth: float) -> float:
    """Volume of a cut-off cone."""
    return math.pi * depth / 12 * (diameter**2 + diameter * end_diameter + end_diameter**2)


def hole(
    work: Workpiece,
    name: str,
    mouths: Sequence[Vec],
    side: str,
    diameter: float,
    depth: float,
    bottom: str = "through",
    point_angle: float = 118.0,
    gap: float = 0.0,
) -> None:
    """Plain round holes. `bottom` is through, flat or conical; `depth` runs to the end of the full diameter.

    `gap` is the length of air that each crosses on its way: coaxial bores on both sides of it are one hole.
    """
    point = diameter / 2 / math.tan(math.radians(point_angle / 2)) if bottom == "conical" else 0.0
    for mouth in mouths:
        work.solid = work.solid.cut(_bore(mouth, side, diameter, depth, bottom == "through"))
        if point:
            work.solid = work.solid.cut(cone(shifted(mouth, side, -depth), side, diameter, 0.0, point))
    work.less(len(mouths) * (disc(diameter) * (depth - gap) + frustum(diameter, 0.0, point)))
    directions = [side, opposite(side)] if bottom == "through" else [side]
    dimensions = {"diameter": diameter, "depth": depth}
    work.add(name, "round_hole", directions, dimensions, count=len(mouths), bottom_condition=bottom)


def counterbore(
    work: Workpiece,
    name: str,
    mouths: Sequence[Vec],
    side: str,
    diameter: float,
    depth: float,
    counterbore_diameter: float,
    counterbore_depth: float,
) -> None:
    """Through holes with a counterbore at the mouth; `depth` is the whole hole's."""
    for mouth in mouths:
        work.solid = work.solid.cut(_bore(mouth, side, counterbore_diameter, counterbore_depth, False))
        work.solid = work.solid.cut(_bore(mouth, side, diameter, depth, True))
    ring = (disc(counterbore_diameter) - disc(diameter)) * counterbore_depth
    work.less(len(mouths) * (disc(diameter) * depth + ring))
    dimensions = {
        "diameter": diameter,
        "depth": depth,
        "counterbore_diameter": counterbore_diameter,
        "counterbore_depth": counterbore_depth,
    }
    work.add(name, "counterbore_hole", [side], dimensions, count=len(mouths), bottom_condition="through")


def countersink(
    work: Workpiece,
    name: str,
    mouths: Sequence[Vec],
    side: str,
    diameter: float,
    depth: float,
    countersink_diameter: float,
    countersink_angle: float = 90.0,
) -> None:
    """Through holes with a countersink at the mouth; `depth` is the whole hole's."""
    sink = (countersink_diameter - diameter) / 2 / math.tan(math.radians(countersink_angle / 2))
    for mouth in mouths:
        work.solid = work.solid.cut(_bore(mouth, side, diameter, depth, True))
        work.solid = work.solid.cut(cone(mouth, side, countersink_diameter, diameter, sink))
    cone_volume = frustum(countersink_diameter, diameter, sink)
    work.less(len(mouths) * (disc(diameter) * (depth - sink) + cone_volume))
    dimensions = {
        "diameter": diameter,
        "depth": depth,
        "countersink_diameter": countersink_diameter,
        "countersink_angle": countersink_angle,
    }
    work.add(name, "countersunk_hole", [side], dimensions, count=len(mouths), bottom_condition="through")


def stepped(
    work: Workpiece,
    name: str,
    mouths: Sequence[Vec],
    side: str,
    bores: Sequence[tuple[float, float]],
    bottom: str = "through",
) -> None:
    """Holes of three or more diameters. `bores` are (diameter, level below the mouth where it ends), widest first."""
    for mouth in mouths:
        for diameter, end in bores:
            last = end == bores[-1][1]
            work.solid = work.solid.cut(_bore(mouth, side, diameter, end, last and bottom == "through"))
    starts = [0.0, *(end for _, end in bores)]
    work.less(len(mouths) * sum(disc(d) * (end - start) for (d, end), start in zip(bores, starts, strict=False)))
    dimensions = {"diameter": bores[-1][0], "depth": bores[-1][1], "mouth_diameter": bores[0][0]}
    work.add(
        name,
        "stepped_hole",
        [side],
        dimensions,
        count=len(mouths),
        bottom_condition=bottom,
        bores=[list(b) for b in bores],
    )


def _bore(mouth: Vec, side: str, diameter: float, depth: float, through: bool) -> cq.Solid:
    """The cylinder that bores a hole, starting and (if through) ending a little outside."""
    beyond = LEAD if through else 0.0
    return cylinder(shifted(mouth, side, LEAD), side, diameter, depth + LEAD + beyond)


def tilted_hole(
    work: Workpiece, name: str, mouth: Vec, direction: Vec, diameter: float, depth: float, point_angle: float = 118.0
) -> None:
    """One conical blind hole square to a tilted face that its mouth lies on."""
    inwards = cq.Vector(*direction) * -1
    start = cq.Vector(*mouth) - inwards * LEAD
    end = cq.Vector(*mouth) + inwards * depth
    point = diameter / 2 / math.tan(math.radians(point_angle / 2))
    work.solid = work.solid.cut(cq.Solid.makeCylinder(diameter / 2, depth + LEAD, start, inwards))
    work.solid = work.solid.cut(cq.Solid.makeCone(diameter / 2, 0.0, point, end, inwards))
    work.less(disc(diameter) * depth + frustum(diameter, 0.0, point))
    work.add(name, "round_hole", [direction], {"diameter": diameter, "depth": depth}, bottom_condition="conical")


def on_circle(center: Vec, side: str, diameter: float, count: int, first_degrees: float = 0.0) -> list[Vec]:
    """Mouths equally spaced on a pitch circle in the plane across `side`, from the next axis in xyz order."""
    axis = axis_of(side)
    first, second = (axis + 1) % 3, (axis + 2) % 3
    points = []
    for number in range(count):
        angle = math.radians(first_degrees + 360.0 * number / count)
        point = list(center)
        point[first] += diameter / 2 * math.cos(angle)
        point[second] += diameter / 2 * math.sin(angle)
        points.append((point[0], point[1], point[2]))
    return points


def on_grid(corner: Vec, side: str, steps: tuple[float, float], counts: tuple[int, int]) -> list[Vec]:
    """Mouths on a grid in the plane across `side`, along the next two axes in xyz order."""
    axis = axis_of(side)
    points = []
    for column in range(counts[0]):
        for row in range(counts[1]):
            point = list(corner)
            point[(axis + 1) % 3] += column * steps[0]
            point[(axis + 2) % 3] += row * steps[1]
            points.append((point[0], point[1], point[2]))
    return points
