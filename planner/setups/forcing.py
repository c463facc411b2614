"""The units that force the number of setups: a smallest set of them, none of which can be left out."""

from __future__ import annotations

from collections.abc import Callable

from planner.setups.by_order import fewest_by_order
from planner.setups.data import SetupProblem

CORE_STATES = 20_000
"""States spent on leaving units out of the set that forces the setups; past it a larger set is named."""


def force_by_order(problem: SetupProblem, count: int) -> tuple[str, ...]:
    """A smallest set of units (none can be left out) that order alone keeps from being cut in fewer setups."""
    spent = 0

    def needed(names: frozenset[str]) -> bool:
        nonlocal spent
        found = fewest_by_order(problem.only(names), stop_at=count)
        spent += found.states
        return found.lower_bound >= count

    return reduced(problem, count, needed, lambda: spent < CORE_STATES)


def reduced(
    problem: SetupProblem, count: int, needed: Callable[[frozenset[str]], bool], go_on: Callable[[], bool]
) -> tuple[str, ...]:
    """The units after leaving out all without which as many setups are still needed: halves first, at last one by one."""
    core = [u.id for u in problem.units]
    if count <= 1:
        return tuple(core[:1])
    size = max(1, len(core) // 2)
    while True:
        for start in range(len(core) - size, -size, -size):
            fewer = core[: max(start, 0)] + core[start + size :]
            if fewer and go_on() and needed(frozenset(fewer)):
                core = fewer
        if size == 1:
            return tuple(core)
        size = max(1, min(size, len(core)) // 2)
