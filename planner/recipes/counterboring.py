"""Counterbores: a tool of the counterbore's own diameter sunk over the hole, or drawn back on the far side."""

from __future__ import annotations

import math

from planner.bores import Bore
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import APPROACH, drill, one_stroke
from planner.recipes.drilling import Cylinder
from shared.plan import Levels, Tool

SAME_SIZE = 0.02
"""Mm by which a counterbore may differ from the diameter that it makes; common practice, no source."""


def counterbore_for(job: RecipeJob, hole: Cylinder) -> Tool | None:
    """The shortest counterbore of this diameter that reaches and whose pilot, if it has one (DN), enters the hole below."""
    if hole.floor != "shoulder" or hole.floor_radius:
        return None
    return next(
        (
            t
            for t in job.cutters.exact("counterbore", hole.diameter, SAME_SIZE)
            if (t.LU or math.inf) >= hole.reach and (t.DN or 0.0) <= hole.opened + SAME_SIZE
        ),
        None,
    )


def counterbore(recipe: Recipe, job: RecipeJob, hole: Cylinder, tool: Tool) -> None:
    """Sinks a counterbore straight down over the hole."""
    height = hole.own_top - hole.bottom
    pilot = f", its pilot of {tool.DN:g} mm runs in the {hole.opened:g} mm hole" if tool.DN else ""
    because = [
        f"{tool.DC:g} mm counterbore: the counterbore's own diameter{pilot}",
        f"one stroke of {height:.2f} mm with a short dwell, so that the shoulder is flat",
        "straight down over the hole",
    ]
    wide = (hole.diameter - hole.opened) / 2.0
    levels = Levels(top=hole.own_top, bottom=hole.bottom)
    faces = [*hole.faces, *hole.floor_faces]
    cut = one_stroke(hole.feature, "counterbore", "boring", tool, levels, wide, faces, because)
    cut.reach = hole.reach
    drill(recipe, job, cut)


def back_tool(job: RecipeJob, step: Bore, free: float, mouth: float) -> Tool | None:
    """The back counterbore of a far step's diameter whose neck (DN) goes through a hole of `free` mm from the level `mouth`."""
    return next(
        (
            t
            for t in job.cutters.exact("backside_counterbore", step.diameter, SAME_SIZE)
            if (t.DN or math.inf) < free and (t.LU or math.inf) >= mouth - step.bottom + APPROACH
        ),
        None,
    )


def back_counterbore(
    recipe: Recipe, job: RecipeJob, feature: str, step: Bore, tool: Tool, free: float, mouth: float
) -> None:
    """Counterbores the far side: in through the hole, cutting edge out, and back up against the shoulder at `step.top`.

    `free`: diameter of the hole that it goes through; `mouth`: level where it goes in.
    """
    height = step.top - step.bottom
    because = [
        f"{tool.DC:g} mm back counterbore: the far side's own diameter; its neck of {tool.DN:g} mm passes the {free:g} mm hole",
        f"one stroke of {height:.2f} mm back towards the spindle with a short dwell, so that the shoulder is flat",
        "in through the hole with the spindle stopped and the edge folded or set off, out past the far side, then it turns",
    ]
    wide = (step.diameter - free) / 2.0
    levels = Levels(top=step.top, bottom=step.bottom)
    cut = one_stroke(feature, "back counterbore", "back_boring", tool, levels, wide, step.faces, because)
    cut.entry = "through the hole, then back from the far side"
    cut.reach = mouth - step.bottom + APPROACH
    drill(recipe, job, cut)
