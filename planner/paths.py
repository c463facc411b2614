"""How far a cutter travels at feed: rings inside a region, along its walls, down a slope; and with rapids between.

Lengths mm, found from the region's own outline with the cutter's radius taken off, not from a rate of area. Where the
outline is not known, area over step.
"""

from __future__ import annotations

import math

from shapely import line_merge
from shapely.geometry import LineString, MultiLineString
from shapely.geometry.base import BaseGeometry

from planner.geometry import area_of, dot, opened, plane_axes, region, wall_length
from shared.features import POCKET_KINDS, View

CLEAR = 2.0
"""Mm beyond the material where a cutter from outside starts and ends; common practice, no source."""
ARC = 0.5
"""Radius of the quarter circles in and out of a wall over the cutter's diameter; common practice, no source."""
THIN = 1e-3
"""Mm by which regions are widened, so that a cutter that just fits has a line to follow."""
MOST_RINGS = 2000


def rings(view: View, diameter: float, step: float, side: float, rim: float = 0.0) -> list[BaseGeometry]:
    """Areas whose borders are the centre's rings, `step` apart from the walls inwards; empty without an outline.

    The cutter's centre keeps its radius and `side` off the walls; at open sides it goes as far as the edge itself, so
    that its rim clears it, and `rim` beyond where raw stock stands there. Rings need `step` up to the radius to leave
    nothing between them.
    """
    shape = region(view)
    if shape is None:
        return []
    radius = diameter / 2.0
    free = opened(view, shape, radius + rim)
    centres = free.buffer(-(radius + side) + THIN, join_style="mitre")
    if centres.is_empty:
        centres = free.buffer(-(radius - THIN), join_style="mitre")
    found: list[BaseGeometry] = []
    while not centres.is_empty and len(found) < MOST_RINGS:
        found.append(centres)
        centres = centres.buffer(-step, join_style="mitre")
    return found


def _around(shape: BaseGeometry) -> float:
    """Length of a region's rings; one along the middle where it is thinner than a chord's error."""
    pieces = shape.geoms if hasattr(shape, "geoms") else [shape]
    return float(sum(p.length / 2.0 if p.area < THIN * p.length else p.length for p in pieces))


def clearing_length(view: View, diameter: float, step: float, side: float, *, outside: bool, rim: float = 0.0) -> float:
    """One level of clearing: rings, and in and out over open sides; area over step where no outline is known.

    Of a planar face, too: holes in it are no islands, and its outline does not tell them from what stands on it.
    """
    found = rings(view, diameter, step, side, rim) if view.kind in POCKET_KINDS else []
    if found:
        length = sum(map(_around, found)) + (len(found) - 1) * step
    else:
        open_ = sum(s.length for s in view.sides if s.open)
        length = max((area_of(view) + rim * open_) / step, view.length or 0.0)
    return length + (diameter + 2.0 * CLEAR if outside else 0.0)


def wall_path(view: View, diameter: float) -> float:
    """One level along the closed sides: the centre's way at a radius off them, and quarter circles in and out.

    Inner corners shorten the way, outer ones lengthen it. From the outline where it is known, else the walls' length.
    """
    shape = region(view)
    arcs = math.pi * ARC * diameter
    if shape is None:
        return wall_length(view) + arcs
    closed = _closed(view, shape)
    if closed.is_empty:
        return wall_length(view) + arcs
    radius = diameter / 2.0
    centres = opened(view, shape, diameter).buffer(-radius + THIN)
    near = (
        centres.boundary.intersection(closed.buffer(radius + 0.05, cap_style="flat"))
        if not centres.is_empty
        else LineString()
    )
    runs = _runs(near)
    if not runs:
        return wall_length(view) + arcs
    return sum(runs) + len(runs) * arcs


def _closed(view: View, shape: BaseGeometry) -> BaseGeometry:
    """The outline without its open sides."""
    u, v = plane_axes(view.direction)
    lines = [
        LineString([(dot(s.start, u), dot(s.start, v)), (dot(s.end, u), dot(s.end, v))])
        for s in view.sides
        if s.open and s.start != s.end
    ]
    edge = shape.boundary
    for line in lines:
        edge = edge.difference(line.buffer(0.02, cap_style="flat"))
    return edge


def _runs(lines: BaseGeometry) -> list[float]:
    """Lengths of the connected runs of a set of lines; crumbs are left out."""
    pieces = [g for g in getattr(lines, "geoms", [lines]) if g.geom_type == "LineString" and g.length > 0.0]
    if not pieces:
        return []
    merged = line_merge(MultiLineString(pieces))
    return [g.length for g in getattr(merged, "geoms", [merged]) if g.length > 0.1]


def slope_length(depth: float, degrees: float) -> float:
    """Way down a ramp or helix: depth / sin(angle)."""
    return depth / math.sin(math.radians(degrees))


def peck_rapids(step: float, strokes: int) -> float:
    """Rapids of a peck cycle with full retract beside the way in and out: up and down from each depth reached."""
    return sum(2.0 * k * step for k in range(1, strokes))
