"""Orders where the exact search gives up: of the states with as many tasks done only the most promising are followed."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from planner.sequence import Search
    from planner.tasks import Hand, State, Step

WIDTH = 60
"""States followed for each number of tasks done: about a second for forty tasks."""
Level = dict["State", tuple[float, "State | None", list["Step"]]]


def narrow_search(search: Search, start: Hand | None, width: int = WIDTH) -> list[Step]:
    """The steps of the best order found from `start`; ties go by the state. Raises ValueError when precedence has a cycle.

    Never worse than leaving out what cannot be told apart: what is followed is ranked by cost so far and lower bound.
    """
    total = search.pool.all.bit_count()
    levels: list[Level] = [{} for _ in range(total + 1)]
    levels[0][0, start] = (0.0, None, [])
    for level in levels[:-1]:
        best = sorted(level, key=lambda s: (level[s][0] + search.bound(search.pool, *s), repr(s)))[:width]
        for state in best:
            for cost, after, steps in search.steps_on(*state):
                there = levels[after[0].bit_count()]
                paid = level[state][0] + cost
                if after not in there or paid < there[after][0] - 1e-9:
                    there[after] = (paid, state, steps)
    if not levels[-1]:
        raise ValueError("the operations' precedence has a cycle: no order keeps it")
    at: State | None = min(levels[-1], key=lambda s: (levels[-1][s][0], repr(s)))
    out: list[Step] = []
    while at is not None:
        _, before, steps = levels[at[0].bit_count()][at]
        out[:0] = steps
        at = before
    return out
