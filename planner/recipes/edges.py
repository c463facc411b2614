"""Chamfers, edge rounds, and the break of sharp edges."""

from __future__ import annotations

import math

from planner.cutting import point_length
from planner.geometry import SAME_DIRECTION, dot, stick_out
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import Cut, counted, mill
from planner.recipes.regions import surfacing
from shared.features import Edge, Feature, FeaturesDocument, View
from shared.plan import Levels, Passes, Tool
from shared.units import Vector

EDGE_BREAK = 0.2
"""Mm by which sharp edges are broken where the drawing asks for nothing else; common practice, no source."""
POINT = 0.05
"""Mm: a tip up to this is a point; a cutter table cannot state a diameter of nought."""
BREAK_AT = 1.0
"""Mm: diameter of the chamfer cutter that touches the edge, off the tip, where the cutting speed is nil."""


def chamfer(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """Mills a chamfer with a cutter of its angle; another angle is followed with a ball end mill."""
    recipe = Recipe()
    size = feature.dimensions
    width = size.get("width") or size.get("size") or view.width or view.depth
    height = view.depth or width
    angle = size.get("angle") or math.degrees(math.atan2(width, height))
    tool = chamfer_tool(job, height, 2.0 * angle)
    if tool is None:
        surfacing(recipe, feature, view, job, stick_out(feature, view, document), feature.faces)
        return recipe
    length = size.get("length") or view.length or sum(s.length for s in view.sides) or width
    tip = view.bottom - _below(tool, _touching(tool))
    because = [
        f"{tool.DCX or tool.DC:g} mm, {tool.SIG or 90:g} degrees: twice the chamfer's {angle:g} degrees, edge long enough for {height:g} mm",
        f"one level: the tip stands at {tip:.2f}, {view.bottom - tip:.2f} mm below the chamfer, so that the tip does not cut",
        "it comes in along a tangent from outside",
    ]
    cut = Cut(
        [feature.id],
        "chamfer",
        "side_finish_milling",
        tool,
        Levels(top=view.top, bottom=view.bottom),
        Passes(axial_depth=height, axial_count=1, radial_depth=width, radial_count=1),
        "contour_parallel",
        "from outside, along a tangent",
        length + 2.0 * (tool.DCX or tool.DC),
        because,
        faces=feature.faces,
        cut_diameter=min(_touching(tool) + 2.0 * width, tool.DCX or tool.DC),
    )
    mill(recipe, job, cut)
    return recipe


def chamfer_tool(job: RecipeJob, height: float, angle: float) -> Tool | None:
    """The smallest chamfer cutter of this included angle whose cutting edge covers `height` beside its tip."""
    fit = [
        t
        for t in job.cutters.of("countersink")
        if abs((t.SIG or 90.0) - angle) <= 1.0 and _below(t, t.DCX or t.DC) - _below(t, _touching(t)) >= height - 1e-6
    ]
    return min(fit, key=lambda t: (t.DCX or t.DC, t.DC, t.id)) if fit else None


def _touching(tool: Tool) -> float:
    """Smallest diameter that is let cut: 1 mm on a finer tip, a little beside the tip of a blunt one."""
    return max(BREAK_AT, tool.DC)


def _below(tool: Tool, diameter: float) -> float:
    """How far the tip stands below the place where the cutter has `diameter`, mm."""
    return point_length(max(diameter - tip_of(tool), 0.0), tool.SIG or 90.0)


def tip_of(tool: Tool) -> float:
    """Diameter of a chamfer cutter's tip; one of a few hundredths is a point."""
    return 0.0 if tool.DC <= POINT else tool.DC


def tip_depth(size: float, at: float, tip: float = 0.0, angle: float = 90.0) -> float:
    """How far a chamfer cutter's tip stands below the edge's face, mm.

    `size`: leg of the break along the direction; `at`: diameter that cuts at the break's lower end; `tip`: diameter of
    the tip; `angle`: included. size + (at - tip) / (2 tan(angle/2)): 0.2 at 1 mm with a point and 90 degrees gives 0.7.
    """
    return size + point_length(at - tip, angle)


def edge_round(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """Rounds an edge with a corner rounding cutter of its radius, else follows it with a ball end mill."""
    recipe = Recipe()
    radius = feature.dimensions.get("radius") or view.depth
    fit = [t for t in job.cutters.of("corner_rounding_mill") if abs(t.RE - radius) <= 0.02]
    if not fit:
        surfacing(recipe, feature, view, job, stick_out(feature, view, document), feature.faces)
        return recipe
    tool = fit[0]
    length = feature.dimensions.get("length") or view.length or sum(s.length for s in view.sides) or radius
    because = [
        f"corner rounding cutter with the edge's own radius {radius:g} mm",
        f"one level: it forms the {radius:g} mm in one pass",
        "it comes in along a tangent from outside",
    ]
    cut = Cut(
        [feature.id],
        "round edge",
        "side_finish_milling",
        tool,
        Levels(top=view.top, bottom=view.bottom),
        Passes(axial_depth=radius, axial_count=1, radial_depth=radius, radial_count=1),
        "contour_parallel",
        "from outside, along a tangent",
        length + 2.0 * (tool.DCX or tool.DC),
        because,
        faces=feature.faces,
        cut_diameter=tool.DCX or tool.DC,
    )
    mill(recipe, job, cut)
    return recipe


def edge_break(
    edges: list[Edge], direction: Vector, job: RecipeJob, document: FeaturesDocument, size: float = EDGE_BREAK
) -> Recipe:
    """Breaks sharp edges that a chamfer cutter reaches along `direction`; one operation for each level.

    `size` is the leg of the break in mm. Edges that list no such direction are left out.
    """
    recipe = Recipe()
    tools = [t for t in job.cutters.of("countersink") if abs((t.SIG or 90.0) - 90.0) < 0.1]
    by_level: dict[float, list[Edge]] = {}
    for edge in edges:
        level = _level(edge, direction)
        if level is not None:
            by_level.setdefault(round(level, 2), []).append(edge)
    if not by_level:
        return recipe
    if not tools:
        recipe.unplanned = "the cutter table has no 90 degree chamfer cutter: sharp edges stay"
        return recipe
    tool = min(tools, key=lambda t: (t.DC, t.DCX or t.DC, t.id))
    for level in sorted(by_level, reverse=True):
        _break_level(recipe, job, tool, level, by_level[level], size)
    return recipe


def _level(edge: Edge, direction: Vector) -> float | None:
    for own, level in zip(edge.directions, edge.levels, strict=False):
        if dot(own, direction) > SAME_DIRECTION:
            return level
    return None


def _break_level(recipe: Recipe, job: RecipeJob, tool: Tool, level: float, edges: list[Edge], size: float) -> None:
    at = _touching(tool)
    tip = tip_depth(size, at, tip_of(tool), tool.SIG or 90.0)
    length = sum(e.length for e in edges)
    because = [
        f"{tool.DCX or tool.DC:g} mm chamfer cutter of {tool.SIG or 90:g} degrees with a tip of {tip_of(tool):g} mm",
        f"it breaks the edge by {size:g} mm while cutting at its {at:g} mm diameter: its tip is {tip:g} mm below the edge's face",
        f"{len(edges)} edge(s), {length:.0f} mm; it comes in from outside along each edge",
    ]
    cut = Cut(
        [],
        "break edges",
        "side_finish_milling",
        tool,
        Levels(top=level, bottom=level - tip),
        Passes(axial_depth=size, axial_count=counted(size, 1.0), radial_depth=size, radial_count=1),
        "contour_parallel",
        "from outside, along a tangent",
        length + 4.0 * len(edges),
        because,
        edges=[e.index for e in edges],
        after=[],
        cut_diameter=at + 2.0 * size,
    )
    mill(recipe, job, cut)
