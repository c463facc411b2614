"""Slots, open pockets and closed pockets: walls on several sides, a floor or none."""

from __future__ import annotations

from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.floors import clear_all
from planner.recipes.leftovers import sharp_corner
from planner.recipes.regions import region
from planner.recipes.task import task_for
from planner.recipes.undercuts import undercut
from planner.recipes.vee import vee_slot
from shared.features import Feature, FeaturesDocument, View
from shared.findings import Finding


def slot(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """A slot open at its ends; tee and vee profiles have cutters of their own."""
    if view.profile == "tee":
        return undercut(feature, view, job, document)
    if view.profile == "vee" and view.bottom_condition != "planar":
        return vee_slot(feature, view, job, document)
    return open_pocket(feature, view, job, document)


def open_pocket(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """A pocket with an open side: the cutter comes in there. One whose floor slopes or curves is cut as a region.

    No flat level is right for such a floor: it is roughed in stairs and followed with a ball, walls and all.
    """
    task = task_for(feature, view, job, document)
    if view.bottom_condition not in ("general", "radiused"):
        recipe = clear_all(task, job, document)
        recipe.findings += gap_unknown(feature, view)
        return recipe
    recipe = region(feature, view, job, document)
    if task.corner == 0.0 and recipe.operations and task.walls:
        recipe.findings.append(sharp_corner(task, recipe.operations[-1].tool))
    return recipe


def gap_unknown(feature: Feature, view: View) -> list[Finding]:
    """A warning where walls face each other and the room between them could not be measured."""
    if view.narrowest_gap is not None or view.closed_sides < 2:
        return []
    message = (
        f"{feature.id}: its narrowest gap is not known; the cutters are chosen by its corners and its widest place"
    )
    hint = "look for narrow places before you trust the first cutter"
    return [Finding(code="gap_unknown", severity="warning", message=message, hint=hint, features=[feature.id])]


def closed_pocket(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """A pocket with no open side: helix or ramp entry; without a bottom it is cut past its far side."""
    return open_pocket(feature, view, job, document)
