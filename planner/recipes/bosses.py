"""Bosses: walls that stand on an open floor. The floor's own recipe clears round them; the boss's brings its walls to size."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

from planner.geometry import SAME_DIRECTION, block_area, dot, wall_length
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import Cut, counted, mill, warn_slender
from planner.recipes.choosing import finish_cutter, no_cutter_reason, rest_chain, rough_cutter
from planner.recipes.clearing import clear_rest, rough_region
from planner.recipes.finishing import finish_floor
from planner.recipes.practice import ROUGH_AXIAL, ROUGH_RADIAL, SIDE_ALLOWANCE
from planner.recipes.regions import OUTSIDE, rough_stairs, surfacing
from planner.recipes.task import Task, stands, task_for
from shared.features import Face, Feature, FeaturesDocument, View
from shared.plan import Levels, Passes, Tool

SAME_LEVEL = 0.02
"""Mm: levels that differ by less are one."""


def boss(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """Finishes the boss's walls; where no planar face of its level does it, first roughs a ring as wide as the cutter.

    What lies beyond the ring belongs to the features round the boss.

    A boss has a floor whatever its view says, so nothing is cut past its bottom.
    """
    recipe = Recipe()
    task = replace(task_for(feature, view, job, document), through=False)
    rough = rough_cutter(task, job)
    if rough is None:
        recipe.unplanned = no_cutter_reason(task)
        return recipe
    floors = floor_features(view, document)
    leaning = _leaning(feature, view, document)
    if leaning:
        rough_stairs(recipe, feature, view, job, document, rough, OUTSIDE)
        surfacing(recipe, feature, view, job, task.reach, leaning)
        return recipe
    if not floors:
        _contour(recipe, task, job, rough, rough.DC, rough=True)
    _contour(recipe, task, job, finish_cutter(task, job, rough), SIDE_ALLOWANCE, rough=False)
    if floors:
        recipe.operations[0].because.append(f"the floor round it is cleared by {floors[0]}, which comes first")
    return recipe


def _leaning(feature: Feature, view: View, document: FeaturesDocument) -> list[int]:
    """The boss's faces that lean: no cutter beside it makes them, one follows them from above."""
    faces = {f.index: f for f in document.faces if f.index in feature.faces}
    flat = set(feature.bottom)
    cones = [i for i, f in faces.items() if f.surface not in ("plane", "cylinder") and i not in flat]
    planes = [i for i in faces if faces[i].surface == "plane" and i not in flat and not stands(i, view, document)]
    return sorted({*cones, *(i for i in planes if _high(faces[i], view, document))})


def _high(face: Face, view: View, document: FeaturesDocument) -> bool:
    """Whether a face reaches over several levels."""
    if face.box is None:
        return False
    spans = zip(document.part.frame, face.box.min, face.box.max, strict=True)
    return sum(abs(dot(axis, view.direction)) * (high - low) for axis, low, high in spans) > SAME_LEVEL


def floor_features(view: View, document: FeaturesDocument) -> list[str]:
    """Planar faces on the boss's bottom level, seen from the same side: their recipe clears round the boss."""
    return [
        f.id
        for f in document.features
        if f.kind == "planar_face"
        and any(
            dot(v.direction, view.direction) > SAME_DIRECTION and abs(v.bottom - view.bottom) < SAME_LEVEL
            for v in f.views
        )
    ]


def bosses_on(view: View, document: FeaturesDocument) -> list[Feature]:
    """Bosses that stand on the level of a planar face, seen from the same side."""
    return [
        f
        for f in document.features
        if f.kind == "boss"
        and any(
            dot(v.direction, view.direction) > SAME_DIRECTION and abs(v.bottom - view.bottom) < SAME_LEVEL
            for v in f.views
        )
    ]


def clear_round(
    feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument, height: float, bosses: list[Feature]
) -> Recipe:
    """Clears a planar face round the bosses that stand on it: an end mill goes round them, where a face mill would not.

    Without bosses: clears a deep floor in levels as thick as an end mill takes.
    """
    recipe = Recipe()
    seen = view.model_copy(update={"top": view.bottom + height, "depth": height, "through": False})
    walls = sorted({f for b in bosses for f in b.walls or b.faces})
    task = replace(task_for(feature, seen, job, document), walls=walls, floor=list(feature.faces), through=False)
    rough = rough_cutter(task, job)
    if rough is None:
        recipe.unplanned = no_cutter_reason(task)
        return recipe
    _rough_flat(recipe, task, job, rough, document)
    final = finish_cutter(task, job, rough)
    chain = rest_chain(task, job, rough, final)
    finish_floor(recipe, task, job, rough if chain else final, corners=chain)
    for before, cutter in pairwise([rough, *chain]):
        clear_rest(recipe, task, job, cutter, before, to_floor=True)
    names = ", ".join(b.id for b in bosses)
    why = f"it goes round what stands on the face ({names}): no face mill passes over it"
    if not bosses:
        why = f"{height:.1f} mm lie over the floor: an end mill takes them in thicker levels than a face mill"
    for operation in recipe.operations:
        operation.because.append(why)
    return recipe


def _rough_flat(recipe: Recipe, task: Task, job: RecipeJob, rough: Tool, document: FeaturesDocument) -> None:
    """All of the block at the face's levels, but where something stands higher beside it: there the face alone."""
    if any(v.narrowest_gap for v in task.feature.views[:1]) and not task.walls:
        rough_region(recipe, task, job, rough)
        return
    block = block_area(task.view.direction, job.allowance, document)
    rough_region(recipe, replace(task, area=max(task.area, block)), job, rough)
    recipe.operations[-1].whole_block = True
    recipe.operations[-1].because.append(
        f"all of the block is cleared at these levels ({block:.0f} mm2), corners beyond the face too: nothing else takes them"
    )


def _around(feature: Feature, view: View) -> float:
    size = feature.dimensions
    if "diameter" in size:
        return math.pi * size["diameter"]
    if "length" in size and "width" in size:
        return 2.0 * (size["length"] + size["width"])
    return max(wall_length(view), 1.0)


def _contour(recipe: Recipe, task: Task, job: RecipeJob, tool: Tool, radial: float, *, rough: bool) -> None:
    height = task.view.depth
    step_down = min(ROUGH_AXIAL * tool.DC if rough else height, tool.APMX or height)
    down = counted(height, step_down)
    total = radial
    over = counted(max(total, 0.1), ROUGH_RADIAL * tool.DC)
    around = _around(task.feature, task.view) + math.pi * (tool.DC + (total if rough else 0.0))
    warn_slender(recipe, task.feature.id, tool, task.reach)
    because = [
        f"{tool.DC:g} mm: the largest end mill that reaches {task.reach:.1f} mm and fits round the boss",
        f"{down} level(s) of at most {step_down:g} mm over {height:.2f} mm, {over} pass(es) over {total:.2f} mm",
        "it comes in from outside: the floor is open all round",
    ]
    cut = Cut(
        [task.feature.id],
        "rough boss" if rough else "finish boss",
        "bottom_and_side_rough_milling" if rough else "side_finish_milling",
        tool,
        Levels(top=task.view.top, bottom=task.view.bottom),
        Passes(
            axial_depth=min(step_down, height),
            axial_count=down,
            radial_depth=max(total, 0.1) / over,
            radial_count=over,
            allowance_side=SIDE_ALLOWANCE if rough else 0.0,
        ),
        "contour_parallel",
        "from outside, along a tangent",
        down * over * around,
        because,
        faces=[] if rough else task.feature.faces,
        reach=task.reach,
    )
    mill(recipe, job, cut)
