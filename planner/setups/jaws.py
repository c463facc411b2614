"""Whether jaws leave room for a cut: the one rule that the model, the search without it and the words share."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Literal

from planner.setups.data import Cuts, Mode, SetupProblem, Unit

Clash = Literal["no", "while_raw", "yes"]
Done = Iterable[tuple[Unit, int]]
"""Units with the direction that each is cut from."""
SLACK = 1e-6


def clash(mode: Mode, unit: Unit, direction: int) -> Clash:
    """Whether cutting the unit from a direction meets the jaws of a mode.

    `while_raw`: not while the raw layer below lifts the part, and jaws press on the raw sides of that layer.
    """
    if mode.fixture:
        return "no"
    low = min(_heights(mode, unit, direction), default=float("inf"))
    if low >= mode.need - SLACK:
        return "no"
    return "while_raw" if mode.below and low + mode.below >= mode.need - SLACK else "yes"


def eats(mode: Mode, unit: Unit, direction: int) -> bool:
    """Whether cutting the unit takes away what a mode holds on sides that hold only while raw."""
    if (mode.grip or mode.rest in mode.raw) and any(side == mode.rest for _, side in unit.opens.get(direction, {})):
        return True
    return _takes(mode, mode.raw, mode.need, unit, direction)


def unlifts(mode: Mode, unit: Unit, direction: int) -> bool:
    """Whether cutting the unit takes away the raw layer below, or the raw sides of it that jaws press on."""
    return _takes(mode, mode.sides, mode.need - mode.below, unit, direction)


def clashing(problem: SetupProblem, mode: Mode, how: Clash) -> Cuts:
    """All cuts from directions that a mode leaves open that clash with its jaws in this way."""

    def make() -> dict[Clash, Cuts]:
        found: dict[Clash, list[tuple[str, int]]] = {"no": [], "while_raw": [], "yes": []}
        for u in problem.units:
            for d in u.directions:
                if d in mode.directions:
                    found[clash(mode, u, d)].append((u.id, d))
        return {kind: tuple(cuts) for kind, cuts in found.items()}

    return problem.once(("clash", mode.id), make)[how]


def eating(problem: SetupProblem, mode: Mode) -> Cuts:
    """All cuts that take away what a mode holds on sides that hold only while raw."""
    return problem.once(("eats", mode.id), lambda: _all(problem, lambda u, d: eats(mode, u, d)))


def unlifting(problem: SetupProblem, mode: Mode) -> Cuts:
    """All cuts that take away the raw layer below, or the raw sides of it that jaws press on."""
    return problem.once(
        ("unlifts", mode.id), lambda: _all(problem, lambda u, d: bool(mode.below) and unlifts(mode, u, d))
    )


def _all(problem: SetupProblem, chosen: Callable[[Unit, int], bool]) -> Cuts:
    return tuple((u.id, d) for u in problem.units for d in u.directions if chosen(u, d))


def _takes(mode: Mode, sides: frozenset[str], height: float, unit: Unit, direction: int) -> bool:
    if sides & unit.cuts.get(direction, frozenset()):
        return True
    heights = unit.opens.get(direction, {})
    return any(h < height - SLACK for (rest, side), h in heights.items() if rest == mode.rest and side in sides)


def _heights(mode: Mode, unit: Unit, direction: int) -> list[float]:
    key = "" if mode.between_ends else mode.rest
    tables = (unit.opens.get(direction, {}), unit.over.get(direction, {}))
    return [h for table in tables for (rest, side), h in table.items() if rest == key and side[1] == mode.pair]


def both_ends(mode: Mode, here: Done) -> bool:
    """Whether both ends beside the jaws are cut at once, and no jaws are short enough for that."""
    if mode.ends is None:
        return False
    cut = {s for unit, d in here for s in unit.cuts.get(d, frozenset())}
    return {"-" + mode.ends, "+" + mode.ends} <= cut


def allows(problem: SetupProblem, mode: Mode, direction: int, here: Done, before: Done) -> bool:
    """Whether a mode holds the workpiece for a setup, with what was cut before it and what is cut in it."""
    here, before = list(here), list(before)
    if direction not in mode.directions:
        return False
    if mode.fixture:
        return True
    cut_here = {s for unit, d in here for s in unit.cuts.get(d, frozenset())}
    cut_before = {s for unit, d in before for s in unit.cuts.get(d, frozenset())}
    if mode.sides & cut_here or (mode.sides - problem.flat | mode.raw) & cut_before:
        return False
    if any(eats(mode, unit, d) for unit, d in [*before, *here] if mode.raw or mode.grip):
        return False
    clashes = {clash(mode, unit, d) for unit, d in here}
    if "yes" in clashes or ("while_raw" in clashes and any(unlifts(mode, unit, d) for unit, d in before)):
        return False
    return not both_ends(mode, here)


def end_sides(mode: Mode) -> tuple[str, str] | None:
    """The two ends beside the jaws, where jaws may stand in the way of both."""
    return None if mode.ends is None else ("-" + mode.ends, "+" + mode.ends)
