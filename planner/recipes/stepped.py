"""Stepped holes: the narrowest cylinder first, through; then each wider one towards the mouth."""

from __future__ import annotations

from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.holes import hole_recipe
from shared.features import Feature, FeaturesDocument, View


def stepped_hole(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """All cylinders and cones that are in sight from this side; what hides behind something narrower is said."""
    return hole_recipe(feature, view, job, document)
