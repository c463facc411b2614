"""Vee slots: a chamfer cutter of the vee's angle, else a ball end mill along the flanks."""

from __future__ import annotations

import math

from planner.geometry import stick_out
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import Cut, counted, mill
from planner.recipes.regions import rough_stairs, surfacing
from shared.features import Feature, FeaturesDocument, View
from shared.plan import Levels, Passes

LEAST_ROUGH, LARGEST_ROUGH = 3.0, 16.0
"""Mm: a vee at least this deep is cleared with an end mill before a ball follows its flanks, and the largest that clears
it; common practice, no source."""


def vee_slot(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """Cuts a vee with a pointed cutter of the same angle, in levels; a blunt tip leaves a flat that is said."""
    recipe = Recipe()
    width = view.width or 2.0 * view.depth
    angle = 2.0 * math.degrees(math.atan2(width / 2.0, view.depth)) if view.depth else 0.0
    fit = [t for t in job.cutters.of("countersink") if abs((t.SIG or 90.0) - angle) < 0.5 and (t.DCX or t.DC) >= width]
    if not fit:
        mills = job.cutters.mills(min(LARGEST_ROUGH, width / 2.0), stick_out(feature, view, document))
        if view.depth > LEAST_ROUGH and mills:
            rough_stairs(recipe, feature, view, job, document, mills[0], "from outside at an open side")
        surfacing(recipe, feature, view, job, stick_out(feature, view, document), feature.faces)
        return recipe
    tool = min(fit, key=lambda t: (t.DC, t.DCX or t.DC))
    step = max(0.5, 0.1 * width)
    count = counted(view.depth, step)
    length = view.length or width
    because = [
        f"{tool.DCX or tool.DC:g} mm cutter of {tool.SIG:g} degrees: the vee's own angle ({angle:.1f}), wide enough for {width:g} mm",
        f"{count} level(s) of at most {step:g} mm: the tip cuts slowly",
        "it comes in from outside at the open end",
        f"its tip of {tool.DC:g} mm leaves a flat that wide at the bottom" if tool.DC > 0.05 else "its tip is a point",
    ]
    cut = Cut(
        [feature.id],
        "mill vee",
        "bottom_and_side_finish_milling",
        tool,
        Levels(top=view.top, bottom=view.bottom),
        Passes(axial_depth=min(step, view.depth), axial_count=count, radial_depth=width / 2.0, radial_count=1),
        "center_milling",
        "from outside at an open side",
        count * (length + (tool.DCX or tool.DC)),
        because,
        faces=feature.faces,
        cut_diameter=max(width / 2.0, tool.DC),
    )
    mill(recipe, job, cut)
    return recipe
