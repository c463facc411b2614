"""Slots, open pockets and closed pockets: walls on several sides, a floor or none."""

from __future__ import annotations

from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.clearing import clear
from planner.recipes.regions import surfacing
from planner.recipes.task import task_for
from planner.recipes.undercuts import undercut
from planner.recipes.vee import vee_slot
from shared.features import Feature, FeaturesDocument, View


def slot(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """A slot open at its ends; tee and vee profiles have cutters of their own."""
    if view.profile == "tee":
        return undercut(feature, view, job, document)
    if view.profile == "vee" and view.bottom_condition != "planar":
        return vee_slot(feature, view, job, document)
    return open_pocket(feature, view, job, document)


def open_pocket(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """A pocket with an open side: the cutter comes in there."""
    task = task_for(feature, view, job, document)
    recipe = clear(task, job)
    if view.bottom_condition == "general" and recipe.unplanned is None:
        surfacing(recipe, feature, view, job, task.reach, task.floor)
    return recipe


def closed_pocket(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """A pocket with no open side: helix or ramp entry; without a bottom it is cut past its far side."""
    return open_pocket(feature, view, job, document)
