"""Bosses: walls that stand on an open floor; the material round them is cleared from outside."""

from __future__ import annotations

from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.clearing import clear
from planner.recipes.task import task_for
from shared.features import Feature, FeaturesDocument, View


def boss(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """Clears round the boss from outside, then its floor and its walls."""
    return clear(task_for(feature, view, job, document), job)
