"""The outside profile: a contour round the part that takes off the raw sides."""

from __future__ import annotations

import math

from planner.cutting import slab_approach
from planner.geometry import part_top, thickness_left, wall_length
from planner.paths import CLEAR
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import Cut, counted, mill, warn_slender
from planner.recipes.choosing import finish_cutter, rest_chain, rough_cutter, wall_cutter
from planner.recipes.clearing import clear_rest
from planner.recipes.finishing import finish_corners
from planner.recipes.leftovers import say_left
from planner.recipes.practice import BREAK_THROUGH, ROUGH_AXIAL, ROUGH_RADIAL, SIDE_ALLOWANCE
from planner.recipes.task import Task, task_for
from shared.cutters import LENGTH_DIAMETER_WARN
from shared.features import Feature, FeaturesDocument, View
from shared.plan import Levels, Passes, Tool

WALL_REACH = LENGTH_DIAMETER_WARN
"""Reach over diameter up to which a flat side is milled as a wall from beside rather than faced: beyond it a cutter
bends, and facing the side from its own direction is always the other way; common practice, no source."""


def outside_profile(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """Rough and finish round the part. Where the part does not fill its box, the corners between are cleared too."""
    task = task_for(feature, _from_the_top(view, document), job, document)
    recipe = Recipe()
    rough = rough_cutter(task, job)
    if rough is None:
        recipe.unplanned = f"no end mill reaches {task.reach:.1f} mm deep round the part"
        return recipe
    if feature.kind == "planar_face" and task.reach > WALL_REACH * rough.DC:
        recipe.unplanned = (
            f"as a wall it needs {task.reach:.1f} mm of reach, {task.reach / rough.DC:.1f} times the {rough.DC:g} mm cutter "
            f"(more than {WALL_REACH:g}): it is faced from its own side instead"
        )
        return recipe
    final = finish_cutter(task, job, rough)
    chain = rest_chain(task, job, rough, final)
    along = wall_cutter(task, [rough, *chain]) if chain and not task.corner else final
    if task.side_stock > 0.0 or _corners(task) > 1.0:
        _contour(recipe, task, job, rough, rough=True)
    if along is not final:  # the large cutter goes round, the small ones into the corners
        _contour(recipe, task, job, along, rough=False)
    before = rough
    for cutter in chain:
        if thickness_left(task.view, before.DC) > SIDE_ALLOWANCE:
            clear_rest(recipe, task, job, cutter, before)
        before = cutter
    say_left(recipe, task, final)
    if along is not final:
        finish_corners(recipe, task, job, final, along)
    else:
        _contour(recipe, task, job, final, rough=False)
    return recipe


def _from_the_top(view: View, document: FeaturesDocument) -> View:
    """The same view from the part's top on: the raw rim stands beside steps and pockets until the contour takes it."""
    top = max(view.top, part_top(view.direction, document))
    return view.model_copy(update={"top": top, "depth": top - view.bottom})


def _corners(task: Task) -> float:
    """Plan area in mm2 between the part and its box: what lies outside the part besides the raw sides."""
    return task.view.region_area or 0.0


def _why(task: Task, tool: Tool, *, rough: bool) -> str:
    if not rough and task.corner and 2.0 * task.corner + 1e-6 < tool.DC:
        return (
            f"the smallest end mill that reaches {task.reach:.1f} mm: none turns in inner corners of {task.corner:g} mm"
        )
    turns = f" and turns in inner corners of {task.corner:g} mm" if task.corner and not rough else ""
    return f"the largest end mill that reaches {task.reach:.1f} mm{turns}"


def _contour(recipe: Recipe, task: Task, job: RecipeJob, tool: Tool, *, rough: bool) -> None:
    past = BREAK_THROUGH if task.through else 0.0
    height = task.view.depth + past
    step_down = min(ROUGH_AXIAL * tool.DC if rough else height, tool.APMX or height)
    down = counted(height, step_down)
    around = wall_length(task.view)
    radial = max(task.side_stock + _corners(task) / max(around, 1.0) - SIDE_ALLOWANCE, 0.1) if rough else SIDE_ALLOWANCE
    over = counted(radial, ROUGH_RADIAL * tool.DC)
    ring = task.feature.kind == "outside_profile"
    ends = 2.0 * (slab_approach(tool.DC, radial / over) + CLEAR)
    run = around + (math.pi * tool.DC if ring else 2.0 * task.side_stock) + ends
    warn_slender(recipe, task.feature.id, tool, task.reach)
    because = [
        f"{tool.DC:g} mm: {_why(task, tool, rough=rough)}",
        f"{down} level(s) of at most {step_down:g} mm" + (f", {past:g} mm past the bottom" if past else ""),
        f"{f'raw sides of {task.side_stock:g} mm and {_corners(task):.0f} mm2 between part and box' if rough else 'what roughing left'}: {over} pass(es)",
        "it comes in from outside the material",
    ]
    cut = Cut(
        [task.feature.id],
        "rough outside" if rough else "finish outside",
        "side_rough_milling" if rough else "side_finish_milling",
        tool,
        Levels(top=task.view.top, bottom=task.view.bottom, break_through=past),
        Passes(
            axial_depth=min(step_down, height),
            axial_count=down,
            radial_depth=radial / over,
            radial_count=over,
            allowance_side=SIDE_ALLOWANCE if rough else 0.0,
        ),
        "contour_parallel",
        "from outside, along a tangent",
        down * over * run,
        because,
        faces=[] if rough else task.feature.faces,
        reach=task.reach,
    )
    mill(recipe, job, cut)
