"""Vee slots: roughed, then shaped by a chamfer cutter of the vee's angle, else by a ball end mill along the flanks."""

from __future__ import annotations

import math

from planner.cutting import point_length
from planner.geometry import stick_out
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import Cut, counted, mill
from planner.recipes.regions import rough_stairs, surfacing
from shared.features import Feature, FeaturesDocument, View
from shared.plan import Levels, Passes, Tool

LEAST_ROUGH, LARGEST_ROUGH = 3.0, 16.0
"""Mm: a vee at least this deep is cleared with an end mill before its flanks are shaped, and the largest that clears it;
common practice, no source."""
POINT = 0.05
"""Mm: a tip up to this is a point; a cutter table cannot state a diameter of nought."""


def vee_slot(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """Shapes a vee with a cutter of the same angle, in levels.

    A blunt one stays above the bottom by what its tip lacks, and a pointed one of the same angle goes down to it. Where
    there is none, a ball follows the flanks and leaves its radius in the bottom.
    """
    recipe = Recipe()
    width = view.width or 2.0 * view.depth
    angle = 2.0 * math.degrees(math.atan2(width / 2.0, view.depth)) if view.depth else 0.0
    same = [t for t in job.cutters.of("countersink") if abs((t.SIG or 90.0) - angle) < 0.5]
    wide = min((t for t in same if (t.DCX or t.DC) >= width), key=lambda t: (t.DC, t.DCX or t.DC, t.id), default=None)
    point = min(
        (t for t in same if wide and t.DC <= POINT and (t.DCX or t.DC) >= wide.DC), key=lambda t: t.id, default=None
    )
    reach = stick_out(feature, view, document)
    mills = job.cutters.mills(min(LARGEST_ROUGH, width / 2.0), reach)
    if view.depth > LEAST_ROUGH and mills:
        rough_stairs(recipe, feature, view, job, document, mills[0], "from outside at an open side")
    if wide is None or (wide.DC > POINT and point is None):
        surfacing(recipe, feature, view, job, reach, feature.faces)
        return recipe
    above = point_length(wide.DC, angle) if wide.DC > POINT else 0.0
    _shape(recipe, feature, view, job, wide, (view.top, view.bottom + above))
    if above > 0.0 and point is not None:
        _shape(recipe, feature, view, job, point, (view.bottom + above, view.bottom))
    return recipe


def _shape(
    recipe: Recipe, feature: Feature, view: View, job: RecipeJob, tool: Tool, levels: tuple[float, float]
) -> None:
    """Adds a cutter of the vee's angle along its middle, from one level to another."""
    top, bottom = levels
    width = (view.width or 2.0 * view.depth) * (top - view.bottom) / max(view.depth, 1e-6)
    step = max(0.5, 0.1 * width)
    count = counted(top - bottom, step)
    length = view.length or width
    last = bottom <= view.bottom + 1e-6
    because = [
        f"{tool.DCX or tool.DC:g} mm cutter of {tool.SIG or 90:g} degrees: the vee's own angle, wide enough for {width:.4g} mm",
        f"{count} level(s) of at most {step:.4g} mm: the tip cuts slowly",
        "it comes in from outside at the open end",
        "its tip is a point"
        if tool.DC <= POINT
        else f"its tip of {tool.DC:g} mm is as wide as the vee {bottom - view.bottom:.2f} mm above its bottom, so it stays there",
    ]
    cut = Cut(
        [feature.id],
        "mill vee",
        "bottom_and_side_finish_milling",
        tool,
        Levels(top=top, bottom=bottom),
        Passes(axial_depth=min(step, top - bottom), axial_count=count, radial_depth=width / 2.0, radial_count=1),
        "center_milling",
        "from outside at an open side",
        count * (length + (tool.DCX or tool.DC)),
        because,
        faces=feature.faces if last else [],
        cut_diameter=max(width / 2.0, tool.DC),
    )
    mill(recipe, job, cut)
