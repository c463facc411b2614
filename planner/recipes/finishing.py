"""The cuts after roughing: floor, walls, floor radius, leaning walls."""

from __future__ import annotations

import math
from collections.abc import Sequence

from planner.cutting import scallop_step
from planner.geometry import wall_length
from planner.paths import clearing_length, wall_path
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import Cut, counted, mill
from planner.recipes.choosing import why_final
from planner.recipes.practice import (
    CORNER_SHARE,
    CUSP,
    FLOOR_RADIAL,
    LEAN_STEP_FLAT,
    LEAN_STEP_LARGEST,
    SIDE_ALLOWANCE,
    USUAL_BALL,
)
from planner.recipes.regions import surfacing
from planner.recipes.task import LEAST_DRAFT, Task, across, allowances, levels_of, narrowest
from shared.plan import Levels, Passes, Tool


def finish_floor(recipe: Recipe, task: Task, job: RecipeJob, tool: Tool, corners: Sequence[Tool] | None = None) -> None:
    """Adds the floor: one level over what roughing left. `corners`: cutters that finish it where this one is too large;
    None where this one goes everywhere it must.
    """
    bottom = min(allowances(task, recipe.operations[0].tool)[1], 0.5 * task.view.depth)
    levels = Levels(top=task.view.bottom + bottom, bottom=task.view.bottom)
    step = FLOOR_RADIAL * tool.DC
    why = why_final(task, tool)
    if corners is not None:
        why = "it roughed the region and is in hand; " + (
            f"corners that it does not reach are finished by {', '.join(f'{t.DC:g}' for t in corners)} mm"
            if corners
            else "it reaches all of the floor"
        )
    because = [
        f"{tool.DC:g} mm with RE {tool.RE:g}: {why}",
        f"one level takes the {bottom:g} mm that roughing left on the floor",
        "it enters above the roughed floor, in free room",
    ]
    if task.fillet > tool.RE + 0.01:
        because.append(f"it keeps {task.fillet - tool.RE:g} mm off the walls, where the floor radius begins")
    width = across(task)
    beside = max(0.1, task.fillet - tool.RE)
    spare = (narrowest(task.view, task.fit) - tool.DC) / 2.0  # a cutter as wide as the gap keeps off no wall
    room = max(0.0, spare) if spare > -0.02 else math.inf  # one that does not pass it keeps out of it
    mill(
        recipe,
        job,
        Cut(
            [task.feature.id],
            "finish floor",
            "plane_finish_milling",
            tool,
            levels,
            Passes(
                axial_depth=bottom,
                axial_count=1,
                radial_depth=step,
                radial_count=counted(width, step),
                allowance_side=min(beside, room) if task.walls else 0.0,
            ),
            "contour_parallel",
            "from outside at an open side" if task.entry_outside else "plunge_ramp in the roughed room",
            clearing_length(task.view, tool.DC, min(step, tool.DC / 2.0), 0.1, outside=task.entry_outside),
            because,
            faces=task.floor,
            reach=task.reach,
        ),
    )


def finish_walls(recipe: Recipe, task: Task, job: RecipeJob, tool: Tool) -> None:
    """Adds the walls: as deep as the cutting edge allows, climb milling."""
    over = min(task.fillet - tool.RE, 0.9 * task.view.depth) if task.fillet > tool.RE + 0.01 else 0.0
    levels, height = levels_of(task, over)
    edge = (tool.APMX or height + tool.RE) - tool.RE  # the corner radius leaves a cusp where one level ends on the next
    step_down = min(height, edge) if edge > 0.0 else height
    down = counted(height, step_down)
    side = allowances(task, recipe.operations[0].tool)[0]
    because = [
        f"{tool.DC:g} mm with RE {tool.RE:g}: {why_final(task, tool)}",
        f"{down} level(s): the cutting edge beside its RE is {edge:g} mm long, the wall {height:.2f} mm high",
        "climb milling, tangential approach from the free room",
    ]
    if over:
        because.append(f"it stays {over:g} mm over the floor, where the floor radius begins")
    mill(
        recipe,
        job,
        Cut(
            [task.feature.id],
            "finish walls",
            "side_finish_milling",
            tool,
            levels,
            Passes(axial_depth=step_down, axial_count=down, radial_depth=max(side, 0.05), radial_count=1),
            "contour_parallel",
            "ap_retract_tangent in the free room",
            down * wall_path(task.view, tool.DC),
            because,
            faces=task.walls,
            reach=task.reach,
        ),
    )


def finish_corners(recipe: Recipe, task: Task, job: RecipeJob, tool: Tool, before: Tool) -> None:
    """Adds the corners that the walls' cutter `before` leaves its radius in, as deep as the cutting edge allows.

    Its way: from where the larger one left either wall into the corner and out, with a diameter to come in and go out on.
    """
    levels, height = levels_of(task)
    step_down = min(height, (tool.APMX or height + tool.RE) - tool.RE)
    down, corners = counted(height, step_down), max(task.view.corner_count, 1)
    because = [
        f"{tool.DC:g} mm with RE {tool.RE:g}: {why_final(task, tool)}",
        f"the {before.DC:g} mm cutter that finished the walls leaves its radius in {corners} corner(s): this one takes the rest",
        f"{down} level(s): the cutting edge beside its RE is {step_down:g} mm long at most, the wall {height:.2f} mm high",
        "it runs in and out along the finished walls, from the free room",
    ]
    mill(
        recipe,
        job,
        Cut(
            [task.feature.id],
            "finish corners",
            "side_finish_milling",
            tool,
            levels,
            Passes(axial_depth=step_down, axial_count=down, radial_depth=max(0.1 * tool.DC, 0.05), radial_count=1),
            "contour_parallel",
            "ap_retract_tangent in the free room",
            down * corners * (before.DC + 2.0 * tool.DC),
            because,
            faces=task.walls,
            reach=task.reach,
        ),
    )


def cut_fillet(recipe: Recipe, task: Task, job: RecipeJob, final: Tool) -> None:
    """A floor radius that no finishing cutter has: traced in small steps with the largest RE that does not exceed it."""
    kinds = ("bullnose_endmill", "ball_endmill")
    largest = min(final.DC, task.gap, 2.0 * task.corner if task.corner else math.inf)
    found = job.cutters.mills(largest, task.reach, kinds, task.fillet)
    if not found:
        recipe.unplanned = (
            f"floor radius {task.fillet:g} mm: no ball or bull nose cutter fits and reaches {task.reach:.1f} mm"
        )
        return
    tool = max(found, key=lambda t: (t.RE, t.DC, -(t.LU or 0.0)))
    exact = abs(tool.RE - task.fillet) <= 0.01
    count = 1 if exact else counted(0.5 * math.pi * task.fillet, 0.3)
    why = "has the floor's own radius: one pass" if exact else f"traces it in {count} passes about 0.3 mm apart"
    mill(
        recipe,
        job,
        Cut(
            [task.feature.id],
            "cut floor radius",
            "bottom_and_side_finish_milling",
            tool,
            Levels(top=min(task.view.bottom + task.fillet, task.view.top), bottom=task.view.bottom),
            Passes(axial_depth=min(task.fillet, 0.3), axial_count=count, radial_depth=0.3, radial_count=1),
            "contour_parallel",
            "ap_retract_tangent in the free room",
            count * wall_length(task.view),
            [
                f"RE {tool.RE:g} mm is not larger than the floor radius {task.fillet:g} mm and {why}",
                "levels only over the height of the radius: walls and floor are done",
                "it enters in the room already cut",
            ],
            faces=[f for f in task.feature.faces if f not in task.feature.bottom and f not in task.feature.walls],
            reach=task.reach,
        ),
    )


def finish_leaning(recipe: Recipe, task: Task, job: RecipeJob) -> None:
    """Walls that lean away: followed in small steps after the upright finish."""
    sides = [s for s in task.view.sides if not s.open and s.draft > LEAST_DRAFT]
    if not sides:
        return
    largest = min(task.gap, 2.0 * task.corner if task.corner else math.inf)
    tool = _leaning_cutter(task, job, largest)
    if tool is None:
        recipe.unplanned = (
            f"leaning walls: no cutter up to {largest:.1f} mm with RE up to {task.fillet:g} reaches {task.reach:.1f} mm"
        )
        return
    step = min(scallop_step(tool.RE, CUSP), LEAN_STEP_LARGEST) if tool.RE else LEAN_STEP_FLAT
    count = counted(task.view.depth, step)
    mill(
        recipe,
        job,
        Cut(
            [task.feature.id],
            "finish leaning walls",
            "side_finish_milling",
            tool,
            Levels(top=task.view.top, bottom=task.view.bottom),
            Passes(axial_depth=step, axial_count=count, radial_depth=SIDE_ALLOWANCE, radial_count=1),
            "contour_parallel",
            "ap_retract_tangent in the free room",
            count * sum(s.length for s in sides),
            [
                f"the walls lean {max(s.draft for s in sides):.1f} degrees: {tool.DC:g} mm with RE {tool.RE:g} follows them; "
                f"RE does not exceed the floor radius {task.fillet:g} mm",
                f"{count} levels of {step:.2f} mm: "
                + (f"cusps of {CUSP:g} mm, 2 sqrt(h (2 RE - h))" if tool.RE else "each leaves a stair"),
                "it enters in the room already cut",
            ],
            faces=[f for s in sides for f in s.faces],
            reach=task.reach,
        ),
    )


def follow_leaning(recipe: Recipe, task: Task, job: RecipeJob) -> None:
    """A ball over all of it in rows, for the floor with its radius, and down the leaning walls with their corners by levels.

    Passes at a constant distance from one outline would cut into corners whose radius stays the same on the way down.
    """
    sides = [s for s in task.view.sides if not s.open]
    steep = [f for f in task.feature.faces if f not in task.feature.bottom]  # the floor's radius too: it ends upright
    done = len(recipe.operations)
    for radius in (
        CORNER_SHARE * task.fillet,
        task.fillet,
    ):  # smaller than the floor's radius, so that it rolls through it
        recipe.unplanned = None
        view = task.view.model_copy(update={"floor_radius": radius or None})
        surfacing(recipe, task.feature, view, job, task.reach, task.feature.faces, area=task.area)
        if recipe.unplanned is None:
            break
    if len(recipe.operations) == done:
        return
    tool = recipe.operations[-1].tool
    step = scallop_step(tool.RE or tool.DC / 2.0, CUSP)
    count = counted(task.view.depth, step)
    because = [
        f"{tool.DC:g} mm ball of the floor: the walls lean {max(s.draft for s in sides):.1f} degrees and meet in radii that lean "
        "with them; passes at a constant distance from one outline would cut into these corners",
        f"{count} levels of {task.view.depth / count:.2f} mm round the walls as they are there: cusps of {CUSP:g} mm, "
        "2 sqrt(h (2R - h)); rows across would lie far apart on so steep a wall",
        "it enters in the room already cut",
    ]
    passes = Passes(axial_depth=task.view.depth / count, axial_count=count, radial_depth=SIDE_ALLOWANCE, radial_count=1)
    cut = Cut(
        [task.feature.id], "finish leaning walls", "freeform_operation", tool,
        Levels(top=task.view.top, bottom=task.view.bottom), passes, "contour_parallel",
        "ap_retract_tangent in the free room", count * sum(s.length for s in sides), because, faces=steep, reach=task.reach,
    )  # fmt: skip
    mill(recipe, job, cut)


def _leaning_cutter(task: Task, job: RecipeJob, largest: float) -> Tool | None:
    """The largest RE that the floor radius allows up to the usual size: a flat end mill where the floor's edge is sharp."""
    kinds = ("endmill", "bullnose_endmill", "ball_endmill")
    found = job.cutters.mills(largest, task.reach, kinds, math.inf if task.through else task.fillet)
    usual = [t for t in found if t.DC <= USUAL_BALL]
    for group in ([t for t in usual if t.RE], [t for t in found if t.RE], usual, found):
        if group:
            return max(group, key=lambda t: (t.RE, t.DC, -(t.LU or 0.0)))
    return None
