"""The planner's one door to the recipes: what a feature, a raw side or a set of edges becomes for this job and stock."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace

from planner.amends import Limits
from planner.edge_ends import Feet, rising, short_of, walls_at
from planner.noted import finish_as_noted
from planner.problem import side_finished
from planner.recipes import Recipe, RecipeJob, edge_break, edge_cutter, facing, operations_for
from planner.stock import SIDES, Stock, opposite
from shared.cutters import load_cutters
from shared.errors import UsageError
from shared.features import Edge, Feature, FeaturesDocument, View
from shared.findings import Finding
from shared.plan import Job, Operation
from shared.shop.machine import load_machine
from shared.shop.materials import load_material, material
from shared.shop.notes import load_notes
from shared.tables.load import thread
from shared.units import Vector

MISFITS = ("no_mill", "cutter_too_short", "cutter_edge_radius", "cutter_too_wide", "cutter_diameter")
"""Codes of findings that say why no mill of the table fits a region (recipes.misfits)."""
FeatureRecipe = Callable[[Feature, View, RecipeJob, FeaturesDocument], Recipe]


@dataclass(frozen=True)
class Kitchen:
    """Recipes with their job, document and stock filled in. `for_feature` can be another one in tests.

    `limits`: what the simulation of an earlier plan refused.
    """

    job: RecipeJob
    document: FeaturesDocument
    stock: Stock
    for_feature: FeatureRecipe = operations_for
    limits: Limits = Limits()

    def feature(self, feature: Feature, view: View) -> Recipe:
        """Operations for a feature from one direction; a face that finishes a stock side is faced with its whole side."""
        side = side_finished(feature, self.stock)
        if side and view.kind == "planar_face" and self.stock.side_of(view.direction) == side:
            return self.side(side, [feature])
        if side and view.kind == "outside_profile" and self.stock.side_of(view.direction):
            return self.wall(side, [feature], view)
        recipe = self.for_feature(feature, view, self._job([feature], view.direction), self.document)
        finish_as_noted(recipe, [feature], self.job.notes)
        return self._limited(recipe, [feature], view.direction)

    def _job(self, features: list[Feature], direction: Vector) -> RecipeJob:
        """The job with the cutters that the limits leave for features from a direction."""
        table = self.limits.table([f.id for f in features], direction, self.job.cutters)
        return self.job if table is self.job.cutters else replace(self.job, cutters=table)

    def _limited(self, recipe: Recipe, features: list[Feature], direction: Vector) -> Recipe:
        """The recipe with what was refused to it said; left to other sides where the simulation would rather."""
        if recipe.unplanned and self._job(features, direction) is not self.job:
            # What its cutters lack was said of the few that the limits leave, not of the table.
            recipe.findings = [f for f in recipe.findings if f.code not in MISFITS]
        for limit in [x for f in features for x in self.limits.at(f.id, direction)]:
            if limit.soft:
                recipe.avoided = True
            elif recipe.unplanned:
                recipe.unplanned += f"; in the simulation, {limit.why}"
            elif recipe.operations:
                recipe.operations[0].because.append(f"chosen smaller after the simulation: {limit.why}")
        return recipe

    def side(self, side: str, features: list[Feature]) -> Recipe:
        """Facing of a whole stock side down to the part's box; `features` are the planar faces that lie there."""
        sizes = [self.stock.part_level("+" + a) + self.stock.part_level("-" + a) for a in "xyz" if a != side[1]]
        rim = max(self.stock.extra(s) for s in SIDES if s[1] != side[1])
        recipe = facing(
            self.stock.part_level(side),
            self.stock.extra(side),
            max(sizes),
            min(sizes),
            self._job(features, self.stock.direction(side)),
            features=[f.id for f in features],
            faces=sorted(i for f in features for i in f.faces),
            overhang=rim,
        )
        finish_as_noted(recipe, features, self.job.notes)
        return self._limited(recipe, features, self.stock.direction(side))

    def wall(self, side: str, features: list[Feature], view: View) -> Recipe:
        """A whole stock side milled as a wall from beside, along `view.direction`: all its raw layer, in one go.

        Beyond the part's box there is only raw stock, so the wall runs over the whole side, steps and all: what stayed
        there would stand proud when the workpiece rests on that side.
        """
        up = str(self.stock.side_of(view.direction))
        top, bottom = self.stock.part_level(up), -self.stock.part_level(opposite(up))
        length = next(
            self.stock.part_level("+" + a) + self.stock.part_level("-" + a) for a in "xyz" if a not in (side[1], up[1])
        )
        faces = sorted(i for f in features for i in f.faces)
        sides = [s.model_copy(update={"faces": faces, "length": length}) for s in view.sides[:1]]
        whole = view.model_copy(
            update={"top": top, "bottom": bottom, "depth": top - bottom, "length": length, "sides": sides}
        )
        job = self._job(features, view.direction)
        recipe = self.for_feature(features[0].model_copy(update={"faces": faces}), whole, job, self.document)
        finish_as_noted(recipe, features, self.job.notes)
        return self._limited(recipe, features, view.direction)

    @property
    def edge_reach(self) -> float:
        """How far below the part's top an edge may lie, mm: the longest chamfer cutter's usable length; its holder stays above."""
        tool = edge_cutter(self.job, math.inf)
        return math.inf if tool is None or tool.LU is None else tool.LU

    def edges(self, edges: list[Edge], direction: Vector, ahead: Collection[int] = ()) -> Recipe:
        """One edge break for all edges of a setup, whatever their levels. `ahead`: those whose wall is cut later."""
        recipe = edge_break(edges, direction, self.job, self.document)
        if len(recipe.operations) > 1:
            recipe.operations = [_one(recipe.operations)]
        early = sum(e.index in ahead for e in edges)
        for op in recipe.operations if early else []:
            op.because.append(
                f"{early} of them before their wall is cut: a groove along the line where it will stand, whose flank is the "
                "break that is left when a later setup cuts the wall; no later setup sees these edges, and the break is as "
                "even as the part is set up again"
            )
        _say_ends(recipe, edges, rising(self.document.edges, direction))
        return recipe


def _say_ends(recipe: Recipe, edges: list[Edge], feet: Feet) -> None:
    """Says of an edge break that it stops before walls, which the cutter's cone and body would run into."""
    walled = {e.index: rises for e in edges if (rises := walls_at(e, feet))}
    if not walled or not recipe.operations:
        return
    ends = sum(map(len, walled.values()))
    most = max(short_of(rise) for rises in walled.values() for rise in rises)
    where = f"{ends} end(s) of {len(walled)} edge(s) lie at a wall: the break has to stop up to {most:.1f} mm before it"
    recipe.operations[0].because.append(f"{where}, as the cutter's body needs room; the rest is done by hand")
    recipe.findings.append(
        Finding(
            code="break_stops_at_wall",
            message=f"broken edges: {where}; the simulation does not cut with the cutter's body there",
            hint="program these ends short, and finish them by hand",
            faces=sorted({f for e in edges if e.index in walled for f in e.faces}),
        )
    )


def kitchen_for(job: Job, document: FeaturesDocument, stock: Stock) -> Kitchen:
    """Recipes for a job. Raises UsageError for an unknown material and DataFileError for a bad file of the shop."""
    cutters, machine = load_cutters(job.tools), load_machine(job.machine)
    if job.machine and job.axes > machine.axes:
        raise UsageError(
            f"{machine.name} has {machine.axes} axes, the job asks for {job.axes}", "ask for as many or fewer", "--axes"
        )
    for hole, size in job.threads.items():
        if thread(size) is None:
            raise UsageError(
                f"thread {size!r} for {hole} is in no table", 'write it as "M12" or "M10x1", by ISO 261', "--thread"
            )
    allowance = tuple(stock.extra(s) for s in SIDES)
    stuff = load_material(job.material_file) if job.material_file else material(job.material)
    recipe_job = RecipeJob(
        material=stuff,
        cutters=cutters,
        machine=machine,
        allowance=allowance,
        threads=dict(job.threads),
        notes=load_notes(job.notes),
    )
    return Kitchen(recipe_job, document, stock)


def _one(operations: list[Operation]) -> Operation:
    """The operations of several levels as one, each level said in `because`."""
    first = operations[0].model_copy(deep=True)
    levels = "; ".join(f"level {op.levels.top:g}: {len(op.edges)} edge(s)" for op in operations)
    first.edges = sorted(e for op in operations for e in op.edges)
    first.levels.bottom = min(op.levels.bottom for op in operations)
    first.path_length = sum(op.path_length for op in operations)
    first.minutes = sum(op.minutes for op in operations)
    first.because = [
        *first.because[:2],
        f"{len(first.edges)} edge(s) on {len(operations)} levels: {levels}",
        *first.because[3:],
    ]
    return first


KitchenMaker = Callable[[Job, FeaturesDocument, Stock], Kitchen]
"""What makes the recipes' door for a job, a document and a stock: `kitchen_for`, or another one in tests."""
