"""Outer faces, outlines, bosses, free-form regions and sealed voids."""

from __future__ import annotations

import math

import cadquery as cq

from models.cutting.frame import Vec, box, cylinder, rounded_prism, rounded_ring_area
from models.cutting.workpiece import Workpiece

OVERCUT = 5.0


def faced(work: Workpiece, *sides: str) -> None:
    """Note the outer faces that the blank's allowance is faced from: one planar_face each."""
    for side in sides:
        work.add(f"face {side}", "planar_face", [side], {})


def outline(work: Workpiece, name: str, points: list[tuple[float, float]], radii: list[float]) -> None:
    """Give the whole part a rounded outline, seen along z. Points counter-clockwise, touching the block's sides."""
    height = work.size[2]
    prism = rounded_prism(points, radii, 0.0, height)
    bounds = prism.BoundingBox()
    work.solid = work.solid.intersect(prism)
    work.less((work.size[0] * work.size[1] - rounded_ring_area(points, radii)) * height)
    _note_outline(work, name, round(bounds.xlen, 4), round(bounds.ylen, 4), height)


def round_outline(work: Workpiece, name: str, wall_height: float) -> None:
    """Turn the square block into a disc, seen along z; `wall_height` is what is left of its wall in the end."""
    diameter, height = work.size[0], work.size[2]
    work.solid = work.solid.intersect(cylinder((diameter / 2, diameter / 2, height), "+z", diameter, height))
    work.less((1 - math.pi / 4) * diameter**2 * height)
    _note_outline(work, name, diameter, diameter, wall_height)


def _note_outline(work: Workpiece, name: str, first: float, second: float, height: float) -> None:
    dimensions = {"length": max(first, second), "width": min(first, second), "depth": height}
    work.add(name, "outside_profile", ["+z", "-z"], dimensions, bottom_condition="through")


def boss(
    work: Workpiece, name: str, center: tuple[float, float], diameter: float, height: float, area: float | None = None
) -> None:
    """Lower the whole top by `height` and leave a round boss on the open floor; `area` of the part seen from +z."""
    size = work.size
    low, high = (-OVERCUT, -OVERCUT, size[2] - height), (size[0] + OVERCUT, size[1] + OVERCUT, size[2] + OVERCUT)
    keep = cylinder((*center, size[2] + OVERCUT), "+z", diameter, height + OVERCUT)
    seen = size[0] * size[1] if area is None else area
    work.remove(box(low, high).cut(keep), (seen - math.pi * diameter**2 / 4) * height)
    work.add(f"floor round {name}", "planar_face", ["+z"], {})
    work.add(name, "boss", ["+z"], {"height": height, "diameter": diameter})


def tilted(work: Workpiece, name: str, low_end: float, high_end: float) -> Vec:
    """Face the top to a plane that rises along x from `low_end` to `high_end` (z); returns its outward normal."""
    length, width, height = work.size
    rise = (high_end - low_end) / length
    profile = [
        (-OVERCUT, low_end - OVERCUT * rise),
        (length + OVERCUT, high_end + OVERCUT * rise),
        (length + OVERCUT, height + OVERCUT),
        (-OVERCUT, height + OVERCUT),
    ]
    tool = cq.Workplane("XZ", origin=(0, width + OVERCUT, 0)).polyline(profile).close().extrude(width + 2 * OVERCUT)
    shape = tool.val()
    assert isinstance(shape, cq.Shape)
    work.remove(shape, width * length * (height - (low_end + high_end) / 2))
    norm = math.hypot(rise, 1.0)
    normal = (-rise / norm, 0.0, 1.0 / norm)
    work.add(name, "planar_face", [normal], {})
    return normal


def region(work: Workpiece, name: str, tool: cq.Shape, directions: list[str]) -> None:
    """Cut a free-form surface; it has no closed formula and no dimensions of its own."""
    work.remove(tool, None)
    work.add(name, "region", directions, {})


def enclosed_void(work: Workpiece, name: str, low: Vec, high: Vec) -> None:
    """Leave a box of air inside that no tool can reach: no direction at all."""
    work.remove(box(low, high), math.prod(h - b for b, h in zip(low, high, strict=True)))
    work.add(name, "enclosed_void", [], {})
