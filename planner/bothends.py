"""Holes that no single side shows whole: cut from both ends, in two works of which the second follows the first."""

from __future__ import annotations

from dataclasses import replace

from planner.recipes.base import Recipe
from planner.stock import dot
from planner.work import Way, Work
from shared.features import HOLE_KINDS, Feature, View
from shared.findings import Finding

HIDDEN = "hole_step_hidden"
ACROSS = -1.0 + 1e-6


def shut_by_itself(feature: Feature, view: View) -> bool:
    """Whether a hole is not reached whole from an end only because a step of its own is narrower there."""
    return (
        feature.kind in HOLE_KINDS
        and view.through
        and not view.reachable
        and bool(view.blocked_by)
        and set(view.blocked_by) <= set(feature.faces)
    )


def other_end(work: Work) -> dict[str, Work]:
    """The work for a hole's other end, by name, or nothing; the given work keeps the way that goes first.

    Only where both ways leave a step behind that the other one cuts, so that together they bring every face to size.
    """
    ways = list((work.ways | work.far).items())
    if work.feature.kind not in HOLE_KINDS or len(ways) != 2 or not all(w.recipe.unplanned for _, w in ways):
        return {}
    (near, first), (far, second) = ways
    if dot(first.view.direction, second.view.direction) > ACROSS:
        return {}
    rest = _rest(first.recipe, second.recipe, {f for s in work.feature.steps for f in s.faces})
    if not rest.operations or _faces(first.recipe) | _faces(rest) < set(work.feature.faces):
        return {}
    name = f"{work.feature.id} (from {far})"
    work.ways = {near: Way(first.view, _first(first.recipe, rest, far))}
    return {name: Work(work.feature, {far: Way(second.view, rest)}, follows=work.feature.id)}


def _rest(first: Recipe, second: Recipe, steps: set[int]) -> Recipe:
    """What is left for the second side: the operations on the walls (`steps`) that the first side does not see."""
    left = steps - _faces(first)
    kept = [op.model_copy(deep=True) for op in second.operations if set(op.faces) & left]
    names = {op.id for op in kept}
    for op in kept:
        op.after = [a for a in op.after if a in names]
        op.because.append("the hole was made from its other end: this side adds what a narrower step hid there")
    return replace(second, operations=kept, unplanned=None, findings=_told(second))


def _first(first: Recipe, rest: Recipe, far: str) -> Recipe:
    """The first side's recipe: faces that the second side finishes, rings between diameters among them, are that side's."""
    later = _faces(rest)
    for op in first.operations:
        op.faces = [f for f in op.faces if f not in later]
    first.operations[-1].because.append(f"a wider step at the other end follows from {far}")
    return replace(first, unplanned=None, findings=_told(first))


def _faces(recipe: Recipe) -> set[int]:
    return {f for op in recipe.operations for f in op.faces}


def _told(recipe: Recipe) -> list[Finding]:
    return [f for f in recipe.findings if f.code != HIDDEN]
