"""The operations of a solved plan, before they are put in order: raw layers, features, equal holes, edges."""

from __future__ import annotations

from planner.drafts import Draft, drafts_of, group_alike, link
from planner.edgebreaks import edges_by_slot
from planner.kitchen import Kitchen
from planner.mouths import after_chamfers, eased, mouths, with_mouths
from planner.problem import Problem
from planner.setups import SetupSolution
from planner.stock import SIDES
from planner.units import Grouped, profile_walls, sides_after
from shared.findings import Finding


def assemble(problem: Problem, grouped: Grouped, solution: SetupSolution, recipes: Kitchen) -> list[Draft]:
    """Every operation with its setup and what must precede it; findings of the recipes used go to the problem."""
    names = grouped.setups.directions
    drafts: list[Draft] = []
    finished_in: dict[str, int] = {}
    sides_cut: frozenset[str] = frozenset()
    parents = problem.parents
    for k, slot in enumerate(solution.slots):
        direction = names[slot.direction]
        drafts += _raw_layer(problem, grouped, k, direction, sides_cut, recipes)
        for unit in slot.units:
            finished_in |= {problem.works[name].feature.id: k for name in grouped.features[unit]}
            drafts += _unit_drafts(problem, unit, grouped.features[unit], k, direction, recipes)
        sides_cut |= sides_after(problem, grouped, slot.units, direction)
        works = [name for unit in slot.units for name in grouped.features[unit]]
        here = {name: problem.from_side.get(name, {}).get(direction, []) for name in works}
        for found in (here, mouths(problem, works, direction), eased(problem, works)):
            parents = with_mouths(parents, found)
    _faced_walls(problem, drafts)
    link(drafts, parents)
    after_chamfers(drafts, {f.id: f for f in problem.document.features})
    drafts = group_alike(drafts, {f.id: f for f in problem.document.features})
    edges = _edge_drafts(problem, [names[s.direction] for s in solution.slots], finished_in, recipes)
    link([*drafts, *edges], {})
    return drafts + edges


def _unit_drafts(
    problem: Problem, unit: str, features: list[str], k: int, direction: str, recipes: Kitchen
) -> list[Draft]:
    if unit == f"face {direction}":
        recipe = recipes.side(direction, [problem.works[f].feature for f in features])
        problem.findings += recipe.findings
        return drafts_of(unit, k, recipe.operations, features, first=True)
    if unit.startswith("face "):
        side, view = unit.removeprefix("face "), problem.works[features[0]].ways[direction].view
        recipe = recipes.wall(side, [problem.works[f].feature for f in features], view)
        problem.findings += recipe.findings
        return drafts_of(unit, k, recipe.operations, features)
    out = []
    for name in features:
        work = problem.works[name]
        recipe = work.ways[direction].recipe
        problem.findings += recipe.findings
        if recipe.unplanned:
            problem.findings.append(_partly(name, recipe.unplanned))
        drafts = drafts_of(name, k, recipe.operations, [work.feature.id])
        for draft in drafts:
            draft.after |= _first_end(problem, work.follows)
        out += drafts
    return out


def _first_end(problem: Problem, name: str | None) -> set[str]:
    """Keys of the operations that make the other end of a hole cut from both, by the name of their work."""
    if name is None:
        return set()
    return {f"{name}:{op.id}" for way in problem.works[name].ways.values() for op in way.recipe.operations}


def _raw_layer(
    problem: Problem, grouped: Grouped, k: int, direction: str, sides_cut: frozenset[str], recipes: Kitchen
) -> list[Draft]:
    """Facing of a raw side that no feature owns, before anything is cut through it."""
    if direction not in SIDES or direction in sides_cut or not problem.stock.extra(direction):
        return []
    if any(u == f"face {direction}" for u in grouped.features):
        return []
    recipe = recipes.side(direction, [])
    for op in recipe.operations:
        op.because.append(
            f"the raw layer on {direction} goes first: no feature owns that side, but all is cut through it"
        )
    return drafts_of(f"raw {direction}", k, recipe.operations, [], first=True)


def _faced_walls(problem: Problem, drafts: list[Draft]) -> None:
    """Flat walls of an outside profile that lie on a raw side are at size once that side is faced: the facing owns them."""
    for facing in [d for d in drafts if d.key.startswith("raw ")]:
        walls = set(profile_walls(problem, facing.key[4:6]))
        if not walls:
            continue
        facing.operation.faces = sorted({*facing.operation.faces, *walls})
        for draft in drafts:
            if draft is not facing and draft.slot >= facing.slot and draft.operation.name.endswith("outside"):
                draft.operation.faces = [f for f in draft.operation.faces if f not in walls]


def _edge_drafts(problem: Problem, slots: list[str], finished_in: dict[str, int], recipes: Kitchen) -> list[Draft]:
    """One edge break for each setup that serves edges, last in it."""
    breaks = edges_by_slot(problem, slots, finished_in)
    problem.unbroken = breaks.left
    out = []
    for k, edges in breaks.by_slot.items():
        recipe = recipes.edges(edges, problem.directions[slots[k]], breaks.ahead)
        problem.findings += recipe.findings
        if recipe.unplanned:
            text = f"{len(edges)} sharp edges of setup s{k + 1} are not broken: {recipe.unplanned}"
            problem.findings.append(
                Finding(
                    code="edges_not_broken",
                    severity="warning",
                    message=text,
                    hint="deburr them by hand",
                    faces=sorted({f for e in edges for f in e.faces}),
                )
            )
        out += drafts_of(f"edges {k}", k, recipe.operations, [], last=True)
    return out


def _partly(feature: str, reason: str) -> Finding:
    return Finding(
        code="partly_uncut",
        severity="warning",
        message=f"{feature}: a part of it stays uncut: {reason}",
        hint="finish it by hand or by another process, or add a cutter that fits",
        features=[feature],
    )
