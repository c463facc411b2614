"""Checked input of the plan: what is to be cut, from which directions, with which recipe, and what must come first."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

from planner.bothends import halves, other_end, shut_by_itself
from planner.chamfer_corners import filed_by_hand
from planner.edge_ends import Feet, hemmed, rising
from planner.geometry import part_top
from planner.precedence import precedence
from planner.recipes.base import Recipe
from planner.stock import SIDES, Stock, dot
from planner.work import Way, Work
from shared.features import Edge, Feature, FeaturesDocument, View
from shared.findings import Finding
from shared.plan import Unplanned
from shared.units import Vector

LEFT_BEHIND = ("sharp_corner", "corner_left", "gap_left", "overhanging_wall")
"""Findings of a recipe that leaves material along its direction."""
BLUNT_DEG = 46.0
"""Degrees that an edge may turn and need no break: a break itself leaves two edges that turn 45."""
Cook = Callable[[Feature, View], Recipe]
"""Turns a feature seen from one direction into operations."""
PREFERRED = ("+z", "-z", "+y", "-y", "+x", "-x")
"""Order in which directions of the part's own axes are listed; tilted ones follow."""


@dataclass
class Problem:
    """All that is to be planned. `directions`: name -> unit vector, preferred first. `parents`: work -> works before it.

    Works are named by their feature; the second work of one cut from both ends has a name of its own. `from_side`: work ->
    direction -> works that come before it only where it is cut from there.

    `edge_reach`: mm below the part's top down to which sharp edges can be broken. `unbroken`: edges that no chamfer cutter
    breaks in the setups that were chosen.
    """

    document: FeaturesDocument
    stock: Stock
    axes: int
    directions: dict[str, Vector] = field(default_factory=dict)
    works: dict[str, Work] = field(default_factory=dict)
    parents: dict[str, list[str]] = field(default_factory=dict)
    from_side: dict[str, dict[str, list[str]]] = field(default_factory=dict)
    unplanned: list[Unplanned] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    edge_reach: float = math.inf
    unbroken: set[int] = field(default_factory=set)
    _edge_directions: dict[tuple[int, tuple[str, ...]], list[str]] = field(default_factory=dict, repr=False)
    _rising: dict[str, Feet] = field(default_factory=dict, repr=False)

    @property
    def edges(self) -> list[Edge]:
        """The sharp edges that are to be broken."""
        return [e for e in self.document.edges if e.angle > BLUNT_DEG]

    def edge_directions(self, edge: Edge) -> list[str]:
        """Names of the directions from which an edge is broken: one that reaches it, and not too deep below the part."""
        key = edge.index, tuple(self.directions)
        if key not in self._edge_directions:
            self._edge_directions[key] = [
                name
                for name, d in self.directions.items()
                if not self.hemmed(edge, name)
                and any(
                    dot(d, seen) > 1.0 - 1e-6 and level >= part_top(d, self.document) - self.edge_reach - 1e-6
                    for seen, level in zip(edge.directions, edge.levels, strict=False)
                )
            ]
        return self._edge_directions[key]

    def hemmed(self, edge: Edge, name: str) -> bool:
        """Whether walls at its ends leave nothing of an edge to a chamfer cutter along a named direction."""
        if name not in self._rising:
            self._rising[name] = rising(self.document.edges, self.directions[name])
        return hemmed(edge, self._rising[name])

    def drop(self, feature: str, reason: str) -> None:
        """Leaves a feature out of the plan and says why."""
        self.unplanned.append(Unplanned(feature=feature, reason=reason))


def problem_of(
    document: FeaturesDocument, stock: Stock, axes: int, cook: Cook, edge_reach: float = math.inf
) -> Problem:
    """The problem of a features document: every feature is either a work with at least one way, or unplanned."""
    problem = Problem(document, stock, axes, edge_reach=edge_reach)
    names = _direction_names(problem)
    for feature in document.features:
        reason = _nothing_to_cut(problem, feature) or filed_by_hand(feature, document, stock, axes)
        if reason:
            problem.drop(feature.id, reason)
            continue
        work = Work(feature, side=side_finished(feature, stock))
        refusals = _add_ways(problem, work, names, cook)
        both = [] if work.ways else halves(feature, cook)
        if both:
            first, second = (name_of(way.view.direction, names) for way in both)
            work.ways = {first: both[0]}
            rest = Work(feature, {second: both[1]}, follows=feature.id)
            problem.works |= {feature.id: work, f"{feature.id} (from {second})": rest}
            continue
        # A hole that is not reached whole from any end is made as far as it can be: the rest of it is said.
        work.ways = work.ways or {n: way for n, way in work.far.items() if way.recipe.operations}
        if work.ways:
            problem.works |= {feature.id: work, **other_end(work)}
        else:
            problem.drop(feature.id, _why_not(feature, refusals, names))
    _keep_directions(problem, names)
    order = precedence(document, problem.works)
    problem.parents, problem.from_side = order.always, order.sides
    problem.findings += order.cycles
    return problem


def side_finished(feature: Feature, stock: Stock) -> str | None:
    """The stock side that a planar face brings to size: it lies on the part's box and looks outwards."""
    if feature.kind != "planar_face":
        return None
    for view in feature.views:
        side = stock.side_of(view.direction)
        near = stock.tolerances.near_miss_mm
        if side and view.kind == "planar_face" and abs(view.bottom - stock.part_level(side)) <= near:
            return side
    return None


def _nothing_to_cut(problem: Problem, feature: Feature) -> str | None:
    """Why a feature needs no operation or can have none, before any recipe is asked."""
    if feature.kind == "enclosed_void":
        return "closed on all sides: no cutter gets in, whatever the direction"
    side = side_finished(feature, problem.stock)
    if side and not problem.stock.extra(side):
        return f"nothing to cut: the stock has no allowance on {side}, this face is its raw side"
    if (
        feature.kind == "outside_profile"
        and feature.removal_volume <= 1e-3
        and not any(map(problem.stock.extra, SIDES))
    ):
        return "nothing to cut: the stock has the part's outline and no allowance"
    return None


def _direction_names(problem: Problem) -> list[tuple[str, Vector]]:
    """Every direction of a reachable view by name: sides of the stock first, then tilted ones by their components."""
    stock = problem.stock
    views = [v for f in problem.document.features for v in f.views if v.reachable or shut_by_itself(f, v)]
    sides = {side for v in views if (side := stock.side_of(v.direction))}
    found = [(side, stock.direction(side)) for side in PREFERRED if side in sides]
    tilted = sorted({v.direction for v in views if not stock.side_of(v.direction)}, reverse=True)
    for direction in tilted:
        if all(dot(direction, known) < 1.0 - 4e-7 for _, known in found):  # under 0.05 degrees apart is one direction
            found.append((_spelt(direction, []), direction))
    return found


def name_of(direction: Vector, names: list[tuple[str, Vector]]) -> str:
    """Name of the listed direction nearest to this one."""
    return max(names, key=lambda n: dot(n[1], direction))[0]


def _add_ways(problem: Problem, work: Work, names: list[tuple[str, Vector]], cook: Cook) -> list[str]:
    """Adds the ways that a recipe can cut; returns what the others say against it.

    Where none can, the findings of the first that was tried become the problem's: they hold the figures.
    """
    refusals: list[str] = []
    said: list[Finding] = []
    for view in work.feature.views:
        name = name_of(view.direction, names)
        if not view.reachable:
            if shut_by_itself(work.feature, view) and dot(dict(names)[name], view.direction) > 1.0 - 1e-6:
                way = Way(view, cook(work.feature, view))
                (work.ways if way.recipe.operations and way.recipe.unplanned is None else work.far)[name] = way
            continue
        if name in work.ways:
            continue
        recipe = cook(work.feature, view)
        if recipe.operations:
            work.ways[name] = Way(view, recipe)
        else:
            refusals.append(f"from {name}: {recipe.unplanned or 'the recipe has no operation for it'}")
            said = said or recipe.findings
    if not work.ways:
        problem.findings += said
    for serves in (_complete, _clean, _free):  # a way that leaves something uncut serves only where none does it all
        work.ways = {n: w for n, w in work.ways.items() if serves(w)} or work.ways
    return refusals


def _complete(way: Way) -> bool:
    return way.recipe.unplanned is None


def _clean(way: Way) -> bool:
    """Whether the way makes the shape that was drawn: no corner, gap or overhang keeps material that is another's to cut."""
    return not any(f.code in LEFT_BEHIND for f in way.recipe.findings)


def _free(way: Way) -> bool:
    """Whether no simulation found something in the way of its cutters and holders."""
    return not way.recipe.avoided


def _why_not(feature: Feature, refusals: list[str], names: list[tuple[str, Vector]]) -> str:
    """Why no way is left: what recipes say, and how much each side that is shut sees and what is in the way there."""
    if not feature.views:
        return "no direction sees it: no view is known"
    shut = [v for v in feature.views if not v.reachable]
    said = [
        _shut(v, _spelt(v.direction, names))
        for v in sorted(shut, key=lambda v: -v.reach_share)[:3]
        if v.reach_share > 0.0
    ]
    if refusals:
        return "; ".join([*refusals, *said])
    blocked = sorted({face for view in feature.views for face in view.blocked_by})
    return (
        "no direction reaches it"
        + (
            f": face{'s' if blocked[1:] else ''} {_few(blocked)} {'are' if blocked[1:] else 'is'} in the way"
            if blocked
            else ""
        )
        + "".join(f"; {text}" for text in said)
    )


def _spelt(direction: Vector, names: list[tuple[str, Vector]]) -> str:
    """A direction's name, or its components where it has none."""
    known = next((n for n, d in names if dot(d, direction) > 1.0 - 4e-7), None)
    return known or "(" + ", ".join(f"{c + 0.0:.4g}" for c in direction) + ")"


def _shut(view: View, name: str) -> str:
    least = f"from {name} {view.reach_share:.0%} of it is seen"
    return least + (f", the rest lies behind faces {_few(view.blocked_by)}" if view.blocked_by else "")


def _few(faces: list[int]) -> str:
    return ", ".join(map(str, faces[:12])) + (", ..." if len(faces) > 12 else "")


def _keep_directions(problem: Problem, names: list[tuple[str, Vector]]) -> None:
    """Keeps the directions that the machine can take, and those that a feature has no other way for."""
    allowed = {n for n, d in names if problem.stock.side_of(d) or _can_tilt(problem, d)}
    needed: set[str] = set()
    for work in problem.works.values():
        if not allowed & set(work.ways):
            needed |= set(list(work.ways)[:1])
            problem.findings.append(_tilted(problem, work))
    for work in problem.works.values():
        work.ways = {n: w for n, w in work.ways.items() if n in allowed | needed}
    used = {n for work in problem.works.values() for n in work.ways}
    problem.directions = {n: d for n, d in names if n in used}


def _can_tilt(problem: Problem, direction: Vector) -> bool:
    """Five axes tilt anyhow; four turn about one of the part's own axes; three do not."""
    if problem.axes == 4:
        return any(abs(dot(axis, direction)) < 1e-3 for axis in problem.stock.frame)
    return problem.axes == 5


def _tilted(problem: Problem, work: Work) -> Finding:
    return Finding(
        code="tilted_direction",
        severity="warning",
        message=f"{work.feature.id} is reached only from {next(iter(work.ways))}, square to no side of the stock",
        hint=f"with {problem.axes} axes it needs an angle plate or a tilting vise; a 5-axis machine turns to it",
        features=[work.feature.id],
    )
