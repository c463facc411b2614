"""Countersunk holes: drill, then sink the mouth with a cutter of the cone's own angle."""

from __future__ import annotations

from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.holes import hole_recipe
from shared.features import Feature, FeaturesDocument, View
from shared.tables.load import countersink_hints


def countersunk_hole(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """Spot, drill, countersink, tap if the job says so; the screw it suits goes into `because`."""
    recipe = hole_recipe(feature, view, job, document)
    cones = [s for s in feature.steps if s.surface == "cone"]
    for operation in recipe.operations:
        if operation.name == "countersink" and cones:
            hints = countersink_hints(cones[0].diameter, cones[0].angle or 90.0)
            operation.because.extend(f"{hint.text} ({hint.source})" for hint in hints)
    return recipe
