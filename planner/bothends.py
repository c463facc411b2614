"""Holes that no single side makes whole: cut from both ends, in two works of which the second follows the first.

No side shows all of a hole with a narrow middle; and no drill of the table may reach through a long one, though each of two
reaches its half. Where they meet a small step may stay: it is said.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from planner.recipes.base import Recipe
from planner.stock import dot
from planner.work import Way, Work
from shared.features import HOLE_KINDS, Feature, View
from shared.findings import Finding

HIDDEN = "hole_step_hidden"
OVERLAP = 1.0
"""Mm that either half of a hole drilled from both ends is drilled past the middle; common practice, no source."""
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


def halves(feature: Feature, cook: Callable[[Feature, View], Recipe]) -> list[Way]:
    """The two ways of a plain through hole that is too long for one side, each drilling half of it; none where that fails."""
    if feature.kind != "round_hole" or len(feature.steps) > 1:
        return []
    ends = [v for v in feature.views if v.reachable and v.through and v.depth > 4.0 * OVERLAP]
    pair = next(((a, b) for a in ends for b in ends if dot(a.direction, b.direction) < ACROSS), None)
    ways = [_half(feature, view, cook) for view in pair or ()]
    if any(w.recipe.unplanned or not w.recipe.operations or not _only_drilled(w.recipe) for w in ways):
        return []
    for way, note in zip(
        ways, ("the other half follows from its far end", "it meets the half made from the other end"), strict=False
    ):
        way.recipe.operations[-1].because.append(
            f"no cutter of the table goes through from one side: {note}, with {OVERLAP:g} mm of overlap"
        )
    for op in ways[0].recipe.operations if ways else []:
        op.faces = []  # the second half brings the wall to size
    if ways:
        ways[1].recipe.findings.append(_met(feature))
    return ways


def _half(feature: Feature, view: View, cook: Callable[[Feature, View], Recipe]) -> Way:
    """One end's way: the hole as a blind one that ends past the middle."""
    bottom = (view.top + view.bottom) / 2.0 - OVERLAP
    half = view.model_copy(
        update={"bottom": bottom, "depth": view.top - bottom, "through": False, "bottom_condition": "conical"}
    )
    return Way(half, cook(feature.model_copy(update={"steps": [], "bottom": []}), half))


def _only_drilled(recipe: Recipe) -> bool:
    """Whether nothing but drills makes the hole: a reamer or a tap would have to go through in one go."""
    return all(op.kind in ("center_drilling", "drilling", "multistep_drilling") for op in recipe.operations)


def _met(feature: Feature) -> Finding:
    return Finding(
        code="drilled_from_both_ends",
        severity="warning",
        message=f"{feature.id}: drilled from both ends; where the halves meet a step of some hundredths may stay",
        hint="a longer drill makes it from one side (--tools)",
        features=[feature.id],
    )


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
