"""Recipes turn one feature, seen from one direction, into operations: one file a family, one function a kind.

`operations_for(feature, view, job, document)` is the door; `facing(...)` serves raw sides and planar faces and
`edge_break(...)` sharp edges. Ids in the answer are local to it (see base.Recipe).
"""

from __future__ import annotations

from collections.abc import Callable

from planner.geometry import finite
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.bosses import boss
from planner.recipes.counterbores import counterbore_hole
from planner.recipes.countersinks import countersunk_hole
from planner.recipes.edges import chamfer, edge_break, edge_cutter, edge_round
from planner.recipes.facing import facing, planar_face
from planner.recipes.holes import round_hole
from planner.recipes.outside import outside_profile
from planner.recipes.pockets import closed_pocket, open_pocket, slot
from planner.recipes.regions import enclosed_void, region
from planner.recipes.stepped import stepped_hole
from planner.recipes.steps import step
from planner.recipes.undercuts import undercut
from shared.features import HOLE_KINDS, Feature, FeaturesDocument, View

__all__ = ["RECIPES", "Recipe", "RecipeJob", "edge_break", "edge_cutter", "facing", "operations_for"]

RECIPES: dict[str, Callable[[Feature, View, RecipeJob, FeaturesDocument], Recipe]] = {
    "planar_face": planar_face,
    "step": step,
    "slot": slot,
    "open_pocket": open_pocket,
    "closed_pocket": closed_pocket,
    "round_hole": round_hole,
    "counterbore_hole": counterbore_hole,
    "countersunk_hole": countersunk_hole,
    "stepped_hole": stepped_hole,
    "boss": boss,
    "outside_profile": outside_profile,
    "chamfer": chamfer,
    "edge_round": edge_round,
    "undercut": undercut,
    "region": region,
    "enclosed_void": enclosed_void,
}


def operations_for(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """Operations that cut `feature` along `view.direction`, by the recipe of the view's kind.

    Levels are dot products along `view.direction`. Local ids in cutting order. Never raises for a feature that cannot
    be cut: `unplanned` says why. A hole keeps the feature's own kind, since its views differ only in what is in sight.
    """
    kind = feature.kind if feature.kind in HOLE_KINDS and view.kind in HOLE_KINDS else view.kind
    return RECIPES[kind](feature, finite(view), job, document)
