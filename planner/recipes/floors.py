"""Regions by their floors: one flat floor, several at different levels, a leaning one below flat ones."""

from __future__ import annotations

from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.choosing import no_cutter_reason, rough_cutter
from planner.recipes.clearing import clear
from planner.recipes.leftovers import sharp_foot
from planner.recipes.regions import rough_stairs, surfacing
from planner.recipes.task import Task
from planner.recipes.terraces import APART, floors_of, leaning_floors, roughed_first, said, tasks_of
from shared.features import FeaturesDocument
from shared.plan import Operation

FOOT_BALL = 6.0
"""Mm: ball that follows a leaning floor between sharp walls: a larger one leaves more at their foot; common practice, no source."""


def clear_all(task: Task, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """A region cleared to its floor, or terrace by terrace where flat floors lie at several levels."""
    floors = floors_of(task.feature, task.view, document)
    leaning = [] if task.through else leaning_floors(task.feature, task.view, document)
    if not any(level > task.view.bottom + APART for level, _ in floors):
        return clear(task, job)
    recipe = Recipe()
    parts = tasks_of(task, floors, document)
    first: list[Operation] = []
    for number, part in enumerate(parts, start=1):
        done = len(recipe.operations)
        if leaning and part is parts[-1]:
            _slope(recipe, part, job, document, leaning)
        else:
            clear(part, job, recipe)
        if recipe.unplanned:
            recipe.operations = []
            return recipe
        said(recipe, done, number, len(parts), part.view.bottom)
        first.append(recipe.operations[done])
    roughed_first(recipe, first)
    return recipe


def _slope(recipe: Recipe, task: Task, job: RecipeJob, document: FeaturesDocument, floor: list[int]) -> None:
    """The deepest part of a region whose floor leans: stairs, and a ball over the floor and the walls beside it."""
    tool = rough_cutter(task, job)
    if tool is None:
        recipe.unplanned = no_cutter_reason(task)
        return
    rough_stairs(recipe, task.feature, task.view, job, document, tool)
    surfacing(recipe, task.feature, task.view, job, task.reach, sorted({*floor, *task.walls}), FOOT_BALL)
    if recipe.unplanned is None and not task.fillet:
        recipe.findings.append(sharp_foot(task, recipe.operations[-1].tool))
