"""Cylinders milled in circles: a helix from solid, or out from a hole that is already there."""

from __future__ import annotations

import math

from planner.paths import slope_length
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import Cut, counted, mill, warn_slender
from planner.recipes.drilling import Cylinder
from planner.recipes.practice import BREAK_THROUGH, HELIX_HOLE, ROUGH_AXIAL
from shared.cutters import LENGTH_DIAMETER_LIMIT
from shared.plan import Levels, Passes, Tool

MILL_SHARE = 0.8
"""Largest end mill over hole diameter in circular milling, so that chips and helix have room; common practice."""
SMALLEST_RIM = 0.3
"""Mm of radius that a drilled hole leaves for the end mill that makes it to size; common practice, no source."""
ROUGH_RADIAL_CIRCLE = 0.4
"""Radial step over the diameter inside a hole, where the cutter is embraced more; common practice, no source."""


def mill_reach(hole: Cylinder) -> float:
    """Reach in mm that an end mill needs, break-through included."""
    return hole.reach + (BREAK_THROUGH if hole.through else 0.0)


def kinds(hole: Cylinder) -> tuple[str, ...]:
    """Kinds of mills that make the cylinder with its floor."""
    if hole.floor == "spherical":
        return ("ball_endmill",)
    return ("endmill", "bullnose_endmill") if hole.floor_radius else ("endmill",)


def circular(recipe: Recipe, job: RecipeJob, hole: Cylinder) -> bool:
    """Mills the cylinder in circles with a cutter smaller than it: a helix from solid, or out from an opened hole."""
    radius = math.inf if hole.floor == "spherical" else hole.floor_radius
    fit = job.cutters.mills(MILL_SHARE * hole.diameter, mill_reach(hole), kinds(hole), radius)
    if hole.floor_radius:
        fit = [t for t in fit if abs(t.RE - hole.floor_radius) < 0.01 and t.DC >= 0.4 * fit[0].DC] or fit
    if not fit:
        recipe.unplanned = (
            f"no end mill up to {MILL_SHARE * hole.diameter:.1f} mm reaches {hole.reach:.1f} mm within "
            f"{LENGTH_DIAMETER_LIMIT:g} diameters"
        )
        return False
    _circles(recipe, job, hole, fit[0])
    return True


def _circles(recipe: Recipe, job: RecipeJob, hole: Cylinder, tool: Tool) -> None:
    past = BREAK_THROUGH if hole.through else 0.0
    step_down = min(ROUGH_AXIAL * tool.DC, tool.APMX or math.inf)
    height = hole.depth + past
    down = counted(height, step_down)
    step_over = ROUGH_RADIAL_CIRCLE * tool.DC
    start = hole.opened or min(HELIX_HOLE * tool.DC, hole.diameter)
    solid = max((hole.diameter - start) / 2.0, SMALLEST_RIM)
    over = counted(solid, step_over)
    circles = sum(math.pi * max(hole.diameter - tool.DC - 2.0 * step_over * i, 0.0) for i in range(over))
    warn_slender(recipe, hole.feature, tool, hole.reach)
    opened = hole.opened >= tool.DC
    entry = "down the hole already made" if opened else f"plunge_helix, {job.material.ramp_deg:g} degrees"
    because = [
        f"{tool.DC:g} mm: the largest end mill up to {MILL_SHARE:g} of the {hole.diameter:g} mm it makes, so smaller than it, "
        f"that reaches {hole.reach:.1f} mm",
        f"{down} level(s) of at most {step_down:g} mm (half the diameter)"
        + (f", {past:g} mm past the bottom" if past else ""),
        f"enters through the {hole.opened:g} mm hole" if opened else "a helix needs no hole to start from",
    ]
    cut = Cut(
        [hole.feature],
        "mill shoulder" if hole.floor == "shoulder" else "mill hole",
        "bottom_and_side_finish_milling" if not hole.through else "side_finish_milling",
        tool,
        Levels(top=hole.top, bottom=hole.bottom, break_through=past),
        Passes(
            axial_depth=min(step_down, height),
            axial_count=down,
            radial_depth=min(step_over, solid),
            radial_count=over,
            allowance_side=hole.leaves,
        ),
        "contour_spiral",
        entry,
        down * (circles + math.pi * (hole.diameter - tool.DC))
        + (0.0 if opened else slope_length(height, job.material.ramp_deg)),
        because,
        faces=[*hole.faces, *hole.floor_faces],
        reach=hole.reach,
    )
    mill(recipe, job, cut)
