"""A lower bound on machines and setups: every choice of those that are used at all, priced at once."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from planner.tasks import Costs, Hand, Tasks

MOST = 4096
"""Choices of machines and setups that are all looked at; beyond it only how many setups are needed at least is counted."""


class Choices:
    """Choices of machines and setups: what the tasks cost in each, and what there is to change. Rows are task groups.

    A choice in which a task cannot be cut costs infinity for it. The cheapest hand of a task in a choice is never dearer
    than the one that an order uses with these machines and setups, and each of them but the one in hand is changed to at
    least once; so the least over all choices never overestimates.
    """

    def __init__(self, pool: Tasks, costs: Costs) -> None:
        hands = [h for members in pool.members for t in members for h, _ in t.hands]
        self.machines = sorted({h.machine for h in hands})
        self.setups = sorted({h.setup for h in hands})
        self.move = _cheapest_move(costs)
        self.setup = costs.setup
        self.small = (2 ** len(self.machines) - 1) * (2 ** len(self.setups) - 1) <= MOST
        self.plain = np.array(pool.least)
        if not self.small:
            return
        pairs = [(m, s) for m in _subsets(self.machines) for s in _subsets(self.setups)]
        self.of = [(frozenset(m), frozenset(s)) for m, s in pairs]
        self.price = np.full((len(pool.members), len(pairs)), np.inf)
        for row, members in enumerate(pool.members):
            for hand, cost in {(h, c) for t in members for h, c in t.hands}:
                fits = np.array([hand.machine in m and hand.setup in s for m, s in self.of])
                self.price[row, fits] = np.minimum(self.price[row, fits], cost)
        self.changes: dict[tuple[str, str] | None, np.ndarray] = {}

    def least(self, pool: Tasks, done: int, hand: Hand | None) -> float:
        """Least cost of what is left, with changes of machine and setup, tools apart."""
        rows = pool.left(done)
        if not rows:
            return 0.0
        if not self.small:
            return float(self.plain[rows].sum())
        return float((self.price[rows].sum(axis=0) + self._changes((hand.machine, hand.setup) if hand else None)).min())

    def _changes(self, held: tuple[str, str] | None) -> np.ndarray:
        """Price of the changes in each choice: one for each machine, and for each setup, but what is held."""
        if held not in self.changes:
            rows = []
            for machines, setups in self.of:
                m = len(machines) - (1 if held is None or held[0] in machines else 0)
                s = len(setups) - (1 if held is None or held[1] in setups else 0)
                rows.append(self.move * m + self.setup * max(m, s))
            self.changes[held] = np.array(rows)
        return self.changes[held]


def _subsets(names: list[str]) -> list[tuple[str, ...]]:
    return [c for k in range(1, len(names) + 1) for c in combinations(names, k)]


def _cheapest_move(costs: Costs) -> float:
    if isinstance(costs.machine, int | float):
        return float(costs.machine)
    return min((c for a, row in costs.machine.items() for b, c in row.items() if a != b), default=0.0)
