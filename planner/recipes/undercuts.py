"""Undercuts: tee slots, dovetails, inner grooves; the cutter family is named, and planned where a cutter fits."""

from __future__ import annotations

from planner.geometry import stick_out, wall_length
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import Cut, counted, mill
from shared.features import Feature, FeaturesDocument, View
from shared.plan import Levels, Passes, Tool

FAMILIES = {"tee": "t_slot_mill", "vee": "dovetail_mill"}


def undercut(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """A tee slot or side groove with a T-slot cutter, a dovetail with a dovetail cutter; else the family is named.

    Figures from the feature's dimensions where they are given: `neck_width` (free width above the undercut), `width`
    (across the undercut), `height` (of the undercut), `angle` (flank of a dovetail). Else the view's gap and width.
    """
    recipe = Recipe()
    size = feature.dimensions
    kind = "dovetail_mill" if "angle" in size and 30.0 <= size["angle"] <= 75.0 else "t_slot_mill"
    neck = size.get("neck_width") or view.narrowest_gap
    width = size.get("width") or view.width
    height = size.get("height") or view.depth
    if not neck or not width or not height:
        recipe.unplanned = f"an undercut needs a {_words(kind)} chosen by hand: its neck or width is not known"
        return recipe
    reach = stick_out(feature, view, document)
    closed_in = view.open_sides == 0
    fit = [t for t in job.cutters.of(kind) if _fits(t, neck, width, height, reach, closed_in, size.get("angle"))]
    if not fit:
        recipe.unplanned = (
            f"needs a {_words(kind)}: neck under {neck:.2f} mm, diameter up to {width:.2f} mm, height up to {height:.2f} mm, "
            f"reach {reach:.1f} mm; the cutter table has none"
        )
        return recipe
    tool = fit[-1]
    _cut(recipe, feature, view, job, tool, (neck, width, height, reach))
    return recipe


def _fits(
    tool: Tool, neck: float, width: float, height: float, reach: float, closed_in: bool, angle: float | None
) -> bool:
    """Whether the cutter's neck passes above the undercut, its head fits in, overlaps the neck's walls, and reaches."""
    stem = tool.DN or tool.DC
    head_passes = not closed_in or neck > tool.DC
    overlaps = tool.DC + (neck - stem) >= width - 1e-6 or width > neck
    leans = tool.kind != "dovetail_mill" or angle is None or abs((tool.SIG or 0.0) - angle) < 1.0
    return (
        stem < neck
        and width + 1e-6 >= tool.DC
        and (tool.APMX or 0.0) <= height + 1e-6
        and (tool.LU or 0.0) >= reach
        and head_passes
        and overlaps
        and leans
    )


def _words(kind: str) -> str:
    return {"t_slot_mill": "T-slot cutter", "dovetail_mill": "dovetail cutter"}[kind]


def _cut(
    recipe: Recipe, feature: Feature, view: View, job: RecipeJob, tool: Tool, size: tuple[float, float, float, float]
) -> None:
    neck, width, height, reach = size
    down = counted(height, tool.APMX or height)
    side = max((width - neck) / 2.0, 0.1)
    length = view.length or wall_length(view) or width
    because = [
        f"{tool.DC:g} mm {_words(tool.kind)}, neck {tool.DN or 0:g} mm: the largest whose neck passes {neck:g} mm",
        f"{down} level(s): the head is {tool.APMX or 0:g} mm high, the undercut {height:g} mm; both sides {side:.2f} mm deep",
        "it comes in from the open end" if view.open_sides else "it goes down in the free middle, then sideways",
    ]
    cut = Cut(
        [feature.id],
        f"mill undercut ({_words(tool.kind)})",
        "side_finish_milling",
        tool,
        Levels(top=view.bottom + height, bottom=view.bottom),
        Passes(axial_depth=min(tool.APMX or height, height), axial_count=down, radial_depth=side, radial_count=1),
        "contour_parallel",
        "from outside at an open side" if view.open_sides else "down in the free middle, then sideways",
        2.0 * down * (length + tool.DC),
        because,
        faces=feature.faces,
        slow=0.7,
    )
    mill(recipe, job, cut)
