"""Strips seen edge-on: a chamfer or an edge round whose faces stand upright along the direction is milled as a wall."""

from __future__ import annotations

from planner.geometry import part_top, side_allowance, stick_out
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import Cut, counted, mill, warn_slender
from planner.recipes.practice import BREAK_THROUGH, ROUGH_AXIAL, ROUGH_RADIAL
from shared.features import Feature, FeaturesDocument, View
from shared.plan import Levels, Passes

EDGE_ON = 0.002
"""Plan area in mm2 a mm of extent below which faces stand upright: only chords and tolerances are left of them."""

ON_FAR_SIDE = 0.02
"""Mm from the part's far side within which a strip ends there."""


def is_upright(view: View) -> bool:
    """Whether the view's faces stand along its direction: nothing of them is a floor or leans, or they cover no area."""
    if view.depth <= 0.05 or view.kind == "planar_face":
        return False
    if view.through or view.region_area is None:
        return view.through
    return view.region_area < EDGE_ON * max(view.length or 0.0, view.width or 0.0, 1.0)


def upright_wall(
    feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument, width: float, radial: float, name: str
) -> Recipe:
    """Mills an upright strip `width` mm long in plan with the side of an end mill; `radial`: mm of corner to take off."""
    recipe = Recipe()
    past = BREAK_THROUGH if view.through and _runs_out(view, document) else 0.0
    reach = stick_out(feature, view, document) + past
    found = job.cutters.mills(1e9, reach)
    if not found:
        recipe.unplanned = f"no end mill reaches {reach:.1f} mm deep within 10 diameters"
        return recipe
    tool = found[0]
    height = view.depth + past
    step_down = min(ROUGH_AXIAL * tool.DC, tool.APMX or height)
    down = counted(height, step_down)
    total = radial + side_allowance(view.direction, job.allowance, document)
    over = counted(total, ROUGH_RADIAL * tool.DC)
    warn_slender(recipe, feature.id, tool, reach)
    because = [
        f"{tool.DC:g} mm: the largest end mill that reaches {reach:.1f} mm; nothing rises beside the strip",
        f"{down} level(s) of at most {step_down:g} mm over {height:.2f} mm"
        + (f", {past:g} mm past the bottom" if past else ""),
        f"{over} pass(es) over {total:.2f} mm; it comes in from outside the material",
    ]
    cut = Cut(
        [feature.id],
        name,
        "side_finish_milling",
        tool,
        Levels(top=view.top, bottom=view.bottom, break_through=past),
        Passes(axial_depth=min(step_down, height), axial_count=down, radial_depth=total / over, radial_count=over),
        "contour_parallel",
        "from outside, along a tangent",
        down * over * (width + 2.0 * tool.DC),
        because,
        faces=feature.faces,
        reach=reach,
    )
    mill(recipe, job, cut)
    return recipe


def _runs_out(view: View, document: FeaturesDocument) -> bool:
    """Whether the strip's foot lies on the part's far side: one that covers no area counts as through on a floor too."""
    x, y, z = view.direction
    return view.bottom < ON_FAR_SIDE - part_top((-x, -y, -z), document)
