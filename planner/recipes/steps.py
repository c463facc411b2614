"""Steps: one straight wall and a floor, open on every other side."""

from __future__ import annotations

from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.floors import clear_all
from planner.recipes.task import task_for
from shared.features import Feature, FeaturesDocument, View


def step(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """Rough from outside with the largest cutter, then floor and wall."""
    return clear_all(task_for(feature, view, job, document), job, document)
