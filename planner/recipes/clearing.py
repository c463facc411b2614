"""The common way to clear a plan-view region to a level: rough, clear what the first cutter left, floor, walls.

Steps, slots, pockets and bosses all do this; their files say what is special about each.
"""

from __future__ import annotations

import math
from itertools import pairwise

from planner.geometry import room_for, thickness_left, wall_length
from planner.paths import CLEAR, clearing_length
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import Cut, counted, mill, warn_slender
from planner.recipes.choosing import (
    finish_cutter,
    no_cutter_reason,
    rest_chain,
    rough_cutter,
    wall_cutter,
    why_cutter,
    why_final,
)
from planner.recipes.finishing import (
    cut_fillet,
    finish_corners,
    finish_floor,
    finish_leaning,
    finish_walls,
    follow_leaning,
)
from planner.recipes.leftovers import leaning, say_left
from planner.recipes.misfits import misfits
from planner.recipes.practice import (
    BREAK_THROUGH,
    FULL_WIDTH_AXIAL,
    ROUGH_AXIAL,
    ROUGH_RADIAL,
    SIDE_ALLOWANCE,
    WALLED,
)
from planner.recipes.task import Task, across, allowances, entry_of, levels_of
from shared.plan import Passes, Tool


def clear(task: Task, job: RecipeJob, recipe: Recipe | None = None) -> Recipe:
    """Rough, rest, floor and wall operations for a region, after those of `recipe`; `unplanned` where no cutter fits or reaches."""
    recipe = recipe or Recipe()
    rough = rough_cutter(task, job)
    if rough is None:
        recipe.unplanned = no_cutter_reason(task)
        recipe.findings += misfits(task, job)
        return recipe
    if task.walls and any(side.draft < -0.1 for side in task.view.sides):
        recipe.findings.append(leaning(task))
    final = finish_cutter(task, job, rough)
    rough_region(recipe, task, job, rough)
    exact = final is rough and task.corner is None and _leaves_no_allowance(recipe, task)
    chain = rest_chain(task, job, rough, final)
    if task.twisted:
        for before, cutter in pairwise([rough, *chain]):
            clear_rest(recipe, task, job, cutter, before)
        follow_leaning(recipe, task, job)
        return recipe
    at_once = not task.through and not task.fillet  # the large cutter finishes the floor, the small ones its corners
    if at_once:
        finish_floor(recipe, task, job, rough, corners=chain)
    walled = bool(task.walls) and wall_length(task.view) > 0.0
    along = wall_cutter(task, [rough, *chain]) if chain else final
    previous = rough
    for cutter in [rough, *chain]:
        if cutter is not rough and _worth_a_rest(task, previous, walled=walled):
            clear_rest(recipe, task, job, cutter, previous, to_floor=at_once)
        if walled and cutter is along and cutter is not final:
            finish_walls(recipe, task, job, along)
        previous = cutter
    say_left(recipe, task, final)
    if not task.through and not at_once:
        finish_floor(recipe, task, job, final)
    if walled and along is not final:
        finish_corners(recipe, task, job, final, along)
    elif walled and not exact:
        finish_walls(recipe, task, job, final)
    if task.fillet > final.RE + 0.01 and not task.through:
        cut_fillet(recipe, task, job, final)
    finish_leaning(recipe, task, job)
    return recipe


def _leaves_no_allowance(recipe: Recipe, task: Task) -> bool:
    """Whether the roughing cutter is as wide as the slot, so that its cut leaves the walls at size; then it says so."""
    cut = recipe.operations[-1]
    if cut.passes.allowance_side or cut.passes.radial_count > 1 or task.view.kind not in WALLED or not task.walls:
        return False
    if task.gap > cut.tool.DC + 0.02 or any(s.draft for s in task.view.sides if not s.open):
        return False
    cut.faces = list(task.walls)
    cut.because.append(f"{cut.tool.DC:g} mm is the width between the walls: this cut leaves them at size")
    return True


def _worth_a_rest(task: Task, before: Tool, *, walled: bool) -> bool:
    """Whether a cutter leaves more in corners and narrow places than the walls' finish takes off anyhow."""
    return not walled or thickness_left(task.view, before.DC) > SIDE_ALLOWANCE


def rough_region(recipe: Recipe, task: Task, job: RecipeJob, tool: Tool) -> None:
    """Adds the roughing of the whole region with one cutter."""
    side, bottom = allowances(task, tool)
    levels, height = levels_of(task, min(bottom, 0.5 * task.view.depth))
    step_over = ROUGH_RADIAL * tool.DC
    over = _passes_across(task, tool, step_over)
    full = over == 1 and task.view.kind in WALLED
    share = FULL_WIDTH_AXIAL if full else ROUGH_AXIAL
    step_down = min(share * tool.DC, tool.APMX or math.inf)
    down = counted(height, step_down)
    entry, why_entry, entry_path = entry_of(task, tool, job, min(step_down, height))
    outside = task.entry_outside
    length = (
        _one_pass(task, tool)
        if full
        else clearing_length(task.view, tool.DC, step_over, side, outside=outside, rim=task.side_stock)
    )
    warn_slender(recipe, task.feature.id, tool, task.reach)
    past = f", {BREAK_THROUGH:g} mm past the bottom so that nothing hangs on" if task.through else ""
    because = [
        why_cutter(task, tool),
        f"{down} level(s) of at most {step_down:g} mm ({share:g} of the diameter) over {height:.2f} mm{past}",
        (
            f"one pass of full width, {tool.DC:g} mm"
            if full
            else f"steps {step_over:g} mm over (half the diameter), all of one level before the next"
        )
        + f"; leaves {side:g} mm on walls and {bottom:g} mm on the floor",
        why_entry,
    ]
    if task.fillet > tool.RE + 0.01:
        because.append(f"the allowances keep its RE {tool.RE:g} clear of the floor radius {task.fillet:g} mm")
    mill(
        recipe,
        job,
        Cut(
            [task.feature.id],
            f"rough {_word(task)}",
            "side_rough_milling" if task.through else "bottom_and_side_rough_milling",
            tool,
            levels,
            Passes(
                axial_depth=min(step_down, height),
                axial_count=down,
                radial_depth=tool.DC if full else step_over,
                radial_count=over,
                allowance_side=side,
                allowance_bottom=min(bottom, 0.5 * task.view.depth),
            ),
            "center_milling" if full else "contour_parallel",
            entry,
            down * (length + (0.0 if outside else entry_path)),
            because,
            reach=task.reach,
        ),
    )


def _one_pass(task: Task, tool: Tool) -> float:
    """A full cut along the middle: from outside over the open ends and their raw rim, in a closed region to and fro."""
    length = task.view.length or math.sqrt(task.area)
    if not task.entry_outside:
        return max(length - tool.DC, 0.0)
    return length + 2.0 * task.side_stock + tool.DC + 2.0 * CLEAR


def _passes_across(task: Task, tool: Tool, step_over: float) -> int:
    """Passes side by side: between two walls the first one is a full cut, beside one wall each takes a step."""
    width = across(task)
    if task.view.kind in WALLED:
        free = max(width - tool.DC - 2.0 * SIDE_ALLOWANCE, 0.0)
        return 1 + (counted(free, step_over) if free > 0.0 else 0)
    return counted(width + task.side_stock, step_over)


def _word(task: Task) -> str:
    return task.view.kind.replace("_", " ")


def clear_rest(recipe: Recipe, task: Task, job: RecipeJob, tool: Tool, before: Tool, *, to_floor: bool = False) -> None:
    """Adds the rest operation: what the cutter `before` could not reach, with a smaller one.

    `to_floor`: down to the floor, where the larger cutter has finished it all round.
    """
    side, bottom = allowances(task, tool)
    bottom = 0.0 if to_floor else min(bottom, 0.5 * task.view.depth)
    levels, height = levels_of(task, bottom)
    step_down = min(ROUGH_AXIAL * tool.DC, tool.APMX or math.inf)
    step_over = ROUGH_RADIAL * tool.DC
    area = _left_area(task, before)
    corners = max(task.view.corner_count, 1)
    over = counted((before.DC - tool.DC) / 2.0 * (math.sqrt(2.0) - 1.0), step_over)
    down = counted(height, step_down)
    warn_slender(recipe, task.feature.id, tool, task.reach)
    why = (
        f"corner radius {task.corner:g} mm"
        if task.corner
        else "sharp corners"
        if task.corner == 0.0
        else "narrow places"
    )
    because = [
        f"the {before.DC:g} mm cutter of the operation before leaves about {area:.1f} mm2 in plan ({why})",
        f"{tool.DC:g} mm: {why_final(task, tool)}",
        f"{down} level(s) of at most {step_down:g} mm (half the diameter)",
        "it comes in through the room that the larger cutter has opened",
    ]
    if to_floor:
        because.append("it goes down to the floor: it finishes what the floor's larger cutter does not reach of it")
    path = down * (area / step_over + corners * 2.0 * before.DC)
    mill(
        recipe,
        job,
        Cut(
            [task.feature.id],
            f"rest rough {_word(task)}",
            "side_rough_milling" if task.through else "bottom_and_side_rough_milling",
            tool,
            levels,
            Passes(
                axial_depth=min(step_down, height),
                axial_count=down,
                radial_depth=step_over,
                radial_count=over,
                allowance_side=side,
                allowance_bottom=bottom,
            ),
            "contour_parallel",
            "from the room that the larger cutter opened",
            path,
            because,
            faces=task.floor if to_floor else [],
            reach=task.reach,
        ),
    )


def _left_area(task: Task, tool: Tool) -> float:
    """Plan area in mm2 that a cutter leaves: from the outline, else (1 - pi/4)(r^2 - corner^2) in each corner."""
    room = room_for(task.view, tool.DC)
    if room is not None and room.fits:
        return room.left_area
    radius, corner = tool.DC / 2.0, task.corner or 0.0
    return max(task.view.corner_count, 1) * (1.0 - math.pi / 4.0) * max(radius**2 - corner**2, 0.0)
