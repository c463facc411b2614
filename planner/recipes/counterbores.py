"""Counterbore holes: the hole is drilled first, then the counterbore is milled with a cutter smaller than it, or sunk."""

from __future__ import annotations

from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.holes import hole_recipe
from shared.features import Feature, FeaturesDocument, View
from shared.tables.load import counterbore_hints


def counterbore_hole(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """Spot, drill, mill the counterbore in circles or sink it, tap if the job says so; the screw it suits goes into `because`."""
    recipe = hole_recipe(feature, view, job, document)
    for operation in recipe.operations:
        if operation.name in ("mill shoulder", "counterbore", "back counterbore"):
            operation.name = "mill counterbore" if operation.name == "mill shoulder" else operation.name
            widest = max((s.diameter for s in feature.steps if s.surface == "cylinder"), default=0.0)
            operation.because.extend(f"{hint.text} ({hint.source})" for hint in counterbore_hints(widest))
    return recipe
