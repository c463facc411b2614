"""The fewest setups that the order of cutting alone allows: exact, by levels of what can be done in 1, 2, 3, ... setups.

The state is the set of units done. In a setup, cutting all that can be cut is never worse, so each direction leads to one
state; and a state that another one of the same level contains is never needed. What is left is small.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.setups.data import SetupProblem

MAX_STATES = 30_000
"""States kept in all before the search gives up with the bound that it has: a second or two."""


@dataclass(frozen=True)
class ByOrder:
    """Directions of a shortest sequence of setups (None when the search gave up), and the proven lower bound."""

    directions: tuple[int, ...] | None
    lower_bound: int
    states: int


class Sets:
    """Units as bits, and for each direction what can be cut from it once what is done."""

    def __init__(self, problem: SetupProblem, bit: dict[str, int] | None = None) -> None:
        self.bit = bit or {u.id: 1 << i for i, u in enumerate(problem.units)}
        self.all = self._mask(frozenset(u.id for u in problem.units))
        self.needs: list[list[tuple[int, int]]] = []
        for d in range(len(problem.directions)):
            here = [u for u in problem.units if d in u.directions]
            self.needs.append([(self.bit[u.id], self._mask(u.waits(d))) for u in here])

    def _mask(self, names: frozenset[str]) -> int:
        mask = 0
        for name in names:
            mask |= self.bit[name]
        return mask

    def after(self, done: int, direction: int, barred: int = 0) -> int:
        """All that is done after one setup from a direction in which some units are barred from being cut."""
        waiting = [row for row in self.needs[direction] if not row[0] & (done | barred)]
        grew = True
        while grew:
            grew, still = False, []
            for row in waiting:
                if row[1] & ~done:
                    still.append(row)
                else:
                    done |= row[0]
                    grew = True
            waiting = still
        return done

    def open_to(self, done: int, direction: int) -> int:
        """Units that can be cut from a direction in a setup after which some are done."""
        return sum(bit for bit, needs in self.needs[direction] if not needs & ~done)


def fewest_by_order(problem: SetupProblem, max_states: int = MAX_STATES, stop_at: int | None = None) -> ByOrder:
    """The fewest setups when only order and directions count. Raises ValueError when the order has a cycle.

    `stop_at`: give up once it is proven that this many setups or more are needed (the bound says so).
    """
    sets = Sets(problem)
    level: dict[int, tuple[int, ...]] = {0: ()}
    states = 0
    while sets.all not in level:
        depth = len(next(iter(level.values())))
        if states > max_states or (stop_at is not None and depth + 1 >= stop_at):
            return ByOrder(None, depth + 1, states)
        found: dict[int, tuple[int, ...]] = {}
        for done, path in level.items():
            for d in range(len(sets.needs)):
                after = sets.after(done, d)
                if after != done:
                    found.setdefault(after, (*path, d))
        if not found:
            raise ValueError("the units' order has a cycle: nothing can be cut first")
        level = _largest(found)
        states += len(level)
    return ByOrder(level[sets.all], len(level[sets.all]), states)


def _largest(found: dict[int, tuple[int, ...]]) -> dict[int, tuple[int, ...]]:
    """States that no other state contains."""
    kept: list[int] = []
    for state in sorted(found, key=lambda s: (-s.bit_count(), s)):
        if not any(state & ~other == 0 for other in kept):
            kept.append(state)
    return {state: found[state] for state in kept}
