"""Chamfers, edge rounds, and the break of sharp edges."""

from __future__ import annotations

import math

from planner.cutting import point_length
from planner.geometry import SAME_DIRECTION, dot, part_top, side_allowance, stick_out
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import Cut, counted, mill
from planner.recipes.facing import facing
from planner.recipes.practice import USUAL_BALL
from planner.recipes.regions import rough_stairs, surfacing
from planner.recipes.upright import is_upright, upright_wall
from shared.features import HOLE_KINDS, Edge, Feature, FeaturesDocument, View
from shared.plan import Levels, Passes, Tool
from shared.units import Vector

ORDINARY_END_MILL = 20.0
"""Mm: a chamfer seen along its normal is narrow, so an end mill serves; common practice, no source."""
WIDE_CHAMFER = 4.0
"""Mm: legs beyond which a chamfer is roughed before its cutter shapes it in one pass; common practice, no source."""
SMALL_BALL = 3.0
"""Mm: smallest ball that is asked for along a narrow strip; common practice, no source."""
EDGE_BREAK = 0.2
"""Mm by which sharp edges are broken where the drawing asks for nothing else; common practice, no source."""
POINT = 0.05
"""Mm: a tip up to this is a point; a cutter table cannot state a diameter of nought."""
FEED_SHARE = 0.5
"""Share of the chamfer cutter's largest diameter that an edge break's feed a tooth goes by: the body is stiff and the chip
thin, though the speed is that of the small diameter that cuts; common practice, no source."""
EDGE_BODY = 10.0
"""Mm: largest diameter of the chamfer cutter that the features document tried edges with, so that its body clears walls."""
BREAK_AT = 1.0
"""Mm: diameter of the chamfer cutter that touches the edge, off the tip, where the cutting speed is nil."""


def chamfer(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """Mills a chamfer: with a cutter of its angle, flat from its own normal, or as a wall where it is seen edge-on.

    Another angle is followed with a ball end mill. `dimensions`: `width`, the leg in mm, and `angle` in degrees.
    """
    leg = feature.dimensions.get("width") or view.width or view.depth
    if view.depth <= 0.05:
        return _flat(feature, view, job, document, leg)
    if is_upright(view):
        return upright_wall(feature, view, job, document, 1.5 * leg, 0.71 * leg, "mill chamfer")
    recipe = Recipe()
    height, plan = view.depth, _plan_width(view, leg)
    angle = math.degrees(math.atan2(plan, height))
    tool = chamfer_tool(job, height, 2.0 * angle)
    if min(leg, view.depth) > WIDE_CHAMFER:
        rough = job.cutters.mills(ORDINARY_END_MILL, stick_out(feature, view, document))
        if not rough:
            recipe.unplanned = f"a chamfer {leg:.1f} mm wide is roughed first, and no end mill reaches it"
            return recipe
        rough_stairs(recipe, feature, view, job, document, rough[0], "from outside at an open side")
    if tool is None:
        surfacing(recipe, feature, view, job, stick_out(feature, view, document), feature.faces, strip_ball(leg))
        return recipe
    _chamfer(recipe, feature, view, job, tool, plan, in_hole=_in_hole(feature, view, document))
    return recipe


def strip_ball(width: float) -> float:
    """Largest ball that follows a strip of this width, mm: twice as wide, at least SMALL_BALL."""
    return min(USUAL_BALL, max(SMALL_BALL, 2.0 * width))


def _plan_width(view: View, leg: float) -> float:
    """Width of the chamfer seen along the direction, mm: of a straight one from its area, else the leg."""
    area, length, width = view.region_area or 0.0, view.length or 0.0, view.width or 0.0
    straight = length > 0.0 and abs(area - length * width) < 0.05 * area
    return width if straight else leg


def _flat(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument, leg: float) -> Recipe:
    """A chamfer from its own normal is a small planar face."""
    length = max(view.length or leg, view.width or leg)
    raw = side_allowance(view.direction, job.allowance, document) * math.sqrt(2.0)
    return facing(
        view.bottom,
        max(view.top - view.bottom, leg / math.sqrt(2.0)) + raw,
        length,
        min(view.length or leg, view.width or leg),
        job,
        features=[feature.id],
        faces=feature.faces,
        largest=ORDINARY_END_MILL,
        reach=leg,
    )


def _in_hole(feature: Feature, view: View, document: FeaturesDocument) -> bool:
    """Whether the edge is the mouth of a hole along this direction: there is no outside to come from."""
    return any(
        f.kind in HOLE_KINDS and f.axis is not None and abs(dot(f.axis.direction, view.direction)) > SAME_DIRECTION
        for f in document.features
        if f.id in feature.inside
    )


def _chamfer(
    recipe: Recipe, feature: Feature, view: View, job: RecipeJob, tool: Tool, plan: float, *, in_hole: bool
) -> None:
    length = max((view.region_area or 0.0) / plan, view.length or 0.0, plan)
    below = _below(tool, _touching(tool))
    because = [
        f"{tool.DCX or tool.DC:g} mm, {tool.SIG or 90:g} degrees: the chamfer's own slope, edge long enough for {view.depth:g} mm",
        f"one level: the tip stands {below:.2f} mm below the chamfer, so that the tip itself does not cut",
        "it comes down in the middle of the hole and goes out along an arc"
        if in_hole
        else "it comes in along a tangent from outside",
    ]
    cut = Cut(
        [feature.id],
        "chamfer",
        "side_finish_milling",
        tool,
        Levels(top=view.top, bottom=view.bottom),
        Passes(axial_depth=view.depth, axial_count=1, radial_depth=plan, radial_count=1),
        "contour_parallel",
        "down in the middle of the hole, out along an arc" if in_hole else "from outside, along a tangent",
        length + 2.0 * (tool.DCX or tool.DC),
        because,
        faces=feature.faces,
        cut_diameter=min(_touching(tool) + 2.0 * plan, tool.DCX or tool.DC),
    )
    mill(recipe, job, cut)


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
    if is_upright(view):
        corner = (1.0 - 1.0 / math.sqrt(2.0)) * radius
        return upright_wall(feature, view, job, document, 0.5 * math.pi * radius, corner, "mill round")
    fit = [t for t in job.cutters.of("corner_rounding_mill") if abs(t.RE - radius) <= 0.02]
    if not fit:
        surfacing(recipe, feature, view, job, stick_out(feature, view, document), feature.faces, strip_ball(radius))
        return recipe
    tool = fit[0]
    length = max((view.region_area or 0.0) / radius, view.length or 0.0, radius)
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
    by_level: dict[tuple[float, float], list[Edge]] = {}
    for edge in edges:
        found = _seen(edge, direction)
        if found is not None:
            by_level.setdefault((round(found[0], 2), round(found[1], 2)), []).append(edge)
    if not by_level:
        return recipe
    tool = edge_cutter(job, part_top(direction, document) - min(level for level, _ in by_level))
    if tool is None:
        recipe.unplanned = "the cutter table has no 90 degree chamfer cutter: sharp edges stay"
        return recipe
    for level, touch in sorted(by_level, reverse=True):
        _break_level(recipe, job, tool, (level, touch), by_level[level, touch], size)
    return recipe


def edge_cutter(job: RecipeJob, reach: float = 0.0) -> Tool | None:
    """The 90 degree chamfer cutter that breaks edges down to `reach` mm below the part's top; None where there is none.

    Among those whose body is no wider than the one that edges were tried with: the finest tip, then the shortest that
    reaches (the longest where none does), then the smallest body. One cutter serves all edges of a setup.
    """
    tools = [t for t in job.cutters.of("countersink") if abs((t.SIG or 90.0) - 90.0) < 0.1]
    tools = [t for t in tools if (t.DCX or t.DC) <= EDGE_BODY + 1e-6] or tools
    long_enough = [t for t in tools if (t.LU or math.inf) + 1e-6 >= reach]
    if long_enough:
        return min(long_enough, key=lambda t: (t.DC, t.LU or 0.0, t.DCX or t.DC, t.id))
    return max(tools, key=lambda t: (t.LU or 0.0, t.id)) if tools else None


def _seen(edge: Edge, direction: Vector) -> tuple[float, float] | None:
    """Level of an edge along a direction, and the diameter of the cutter that touches it; None where it is not reached."""
    for k, (own, level) in enumerate(zip(edge.directions, edge.levels, strict=False)):
        if dot(own, direction) > SAME_DIRECTION:
            return level, edge.touch[k] if k < len(edge.touch) else BREAK_AT
    return None


def _break_level(
    recipe: Recipe, job: RecipeJob, tool: Tool, place: tuple[float, float], edges: list[Edge], size: float
) -> None:
    level, touch = place
    at = min(max(touch, tool.DC), (tool.DCX or tool.DC) - 2.0 * size)
    tip = tip_depth(size, at, tip_of(tool), tool.SIG or 90.0)
    length = sum(e.length for e in edges)
    because = [
        f"{tool.DCX or tool.DC:g} mm chamfer cutter of {tool.SIG or 90:g} degrees with a tip of {tip_of(tool):g} mm",
        f"it breaks the edge by {size:g} mm while cutting at its {at:.3g} mm diameter: its tip is {tip:.3g} mm below the edge's face"
        + (", and its body stays clear of what stands round the rim" if at > BREAK_AT else "")
        + (", clear of the low wall's foot" if at < BREAK_AT else ""),
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
        feed_diameter=FEED_SHARE * (tool.DCX or tool.DC),
    )
    mill(recipe, job, cut)
