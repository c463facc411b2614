"""The order of operations: fewest costly changes of machine, setup and cutter, with precedence kept.

The search walks over states (operations done, what the machine holds now). Where the thing in hand can cut an
operation at that operation's own lowest cost, cutting it now is never worse: taking it out of its later place adds no
change (changes obey the triangle inequality) and sets what waits for it free earlier. So only changes branch, and the
state space stays small when precedence is shallow. A* with bounds that never overestimate makes the answer exact;
past the limit on states the best of a narrow search is returned together with the bound, and says so.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from planner.alternatives import settled
from planner.choices import Choices
from planner.narrow import narrow_search
from planner.tasks import Bound, Costs, Hand, Ordered, State, Step, Task, Tasks

MAX_STATES = 40_000
"""States expanded before the search gives way to the greedy order: about two seconds."""


def order(
    tasks: Sequence[Task],
    costs: Costs,
    bound: Bound | None = None,
    max_states: int = MAX_STATES,
    start: Hand | None = None,
) -> Ordered:
    """The cheapest order of `tasks`, exact unless `max_states` runs out; then the best of a narrow search,
    with the proven lower bound.

    `bound(tasks, done, hand)` may replace the general lower bound; it must never overestimate. Raises ValueError when
    precedence has a cycle.
    """
    found = [_ordered(part, costs, bound or general_bound(costs), max_states, start) for part in settled(tasks)]
    lower = min(f.lower_bound for f in found)
    return replace(min(found, key=lambda f: f.cost), lower_bound=lower)


def _ordered(tasks: Sequence[Task], costs: Costs, bound: Bound, max_states: int, start: Hand | None) -> Ordered:
    pool = Tasks(tasks)
    search = Search(pool, costs, bound)
    found, lower = search.run([start], max_states)
    steps = list(found[0].steps) if found else cheaper_order(search, start)
    return _counted(steps, pool, costs, lower, start)


@dataclass(frozen=True)
class Finish:
    """A cheapest way to do all tasks: the hand it starts from, its cost, steps, and the hand it ends with."""

    start: Hand | None
    cost: float
    steps: tuple[Step, ...]
    end: Hand | None


class Search:
    """A* over (tasks done, hand). `bound(tasks, done, hand)` must never overestimate what is still to pay."""

    def __init__(self, pool: Tasks, costs: Costs, bound: Bound) -> None:
        self.pool, self.costs, self.bound = pool, costs, bound

    def run(
        self, starts: Sequence[Hand | None], max_states: int, ends: frozenset[Hand] = frozenset()
    ) -> tuple[list[Finish], float]:
        """All cheapest finishes found and the proven lower bound; no finish when `max_states` ran out or none exists.

        Starts cost the same. The search goes on among equally cheap ways until every hand in `ends` has been met as the
        last one; an empty `ends` stops at the first finish.
        """
        self.came: dict[State, tuple[State | None, list[Step]]] = {}
        self.best: dict[State, float] = {}
        self.queue: list[tuple[float, int, int, State]] = []
        for start in starts:
            self._push((0, start), 0.0, None, [])
        finishes: dict[Hand | None, Finish] = {}
        closed: set[State] = set()
        lower = 0.0
        while self.queue:
            value, _, _, state = heapq.heappop(self.queue)
            if finishes and value > lower + 1e-9:
                break
            lower = value
            if state[0] == self.pool.all:
                finishes.setdefault(state[1], self._finish(state))
                if ends <= finishes.keys():
                    break
            elif state not in closed:
                closed.add(state)
                if len(closed) > max_states:
                    break
                for cost, after, steps in self.steps_on(*state):
                    self._push(after, self.best[state] + cost, state, steps, closed)
        return list(finishes.values()), lower

    def _push(
        self, state: State, total: float, came: State | None, steps: list[Step], closed: set[State] | None = None
    ) -> None:  # type: ignore[assignment]
        """Queues a state if this is the cheapest way to it so far."""
        if total < self.best.get(state, float("inf")) - 1e-9:
            self.best[state], self.came[state] = total, (came, steps)
            if closed:
                closed.discard(state)
            value = total + self.bound(self.pool, *state)
            heapq.heappush(self.queue, (value, -state[0].bit_count(), len(self.came), state))

    def steps_on(self, done: int, hand: Hand | None) -> Iterator[tuple[float, State, list[Step]]]:
        """Each (cost, state, steps) one step on: a hand and all that is free in it, or one task at a dearer price."""
        for new, tasks in self.pool.free.items():
            if any(self.pool.ready(t, done) for t, _ in tasks):
                more, extra, steps = closure(self.pool, done, new)
                yield extra + self.costs.change(hand, new), (done | more, new), steps
        for task, new, cost in self.pool.dear:
            if self.pool.ready(task, done):
                bit = self.pool.bit[task.id]
                more, extra, free = closure(self.pool, done | bit, new)
                yield cost + extra + self.costs.change(hand, new), (done | bit | more, new), [(task.id, new), *free]

    def _finish(self, state: State) -> Finish:
        steps: list[Step] = []
        end, cost, at = state[1], self.best[state], state
        while True:
            before, part = self.came[at]
            steps[:0] = part
            if before is None:
                return Finish(at[1], cost, tuple(steps), end)
            at = before


def closure(pool: Tasks, done: int, hand: Hand) -> tuple[int, float, list[Step]]:
    """What the hand cuts at each task's lowest cost without any change: mask added, cost, steps in task order."""
    added, cost, steps, grew = 0, 0.0, [], True
    while grew:
        grew = False
        for task, price in pool.free.get(hand, ()):
            if pool.ready(task, done | added):
                added |= pool.bit[task.id]
                cost += price
                steps.append((task.id, hand))
                grew = True
    return added, cost, steps


def general_bound(costs: Costs) -> Bound:
    """Lowest cost of what is left with the changes that it needs at least.

    Machines and setups: over every choice of machines and setups that are used at all, each task at its cheapest among
    them, a change for each but what is held; the cheapest choice is the bound. Tools: a change for each of a set of tasks
    no two of which share one.
    """
    memo: dict[tuple[int, str], int] = {}
    tables: list[Choices] = []

    def tools(pool: Tasks, done: int, held: str) -> int:
        key = (done, held)
        if key not in memo:
            wanted = [frozenset(h.tool for t in pool.members[i] for h, _ in t.hands) for i in pool.left(done)]
            memo[key] = _packing([w for w in wanted if held not in w])
        return memo[key]

    def bound(pool: Tasks, done: int, hand: Hand | None) -> float:
        if not tables:
            tables.append(Choices(pool, costs))
        first = 0 if hand else 1  # what is set up first costs no change
        changes = max(0, tools(pool, done, hand.tool if hand else "") - first)
        return tables[0].least(pool, done, hand) + costs.tool * changes

    return bound


def _packing(sets: list[frozenset[str]]) -> int:
    """Number of pairwise disjoint sets found greedily, smallest first: each needs a choice of its own."""
    used: set[str] = set()
    count = 0
    for wanted in sorted(set(sets), key=lambda s: (len(s), sorted(s))):
        if not wanted & used:
            used |= wanted
            count += 1
    return count


def cheaper_order(search: Search, start: Hand | None) -> list[Step]:
    """The cheaper of the greedy order and that of the narrow search, where the exact search gave up."""
    ways = [greedy(search.pool, search.costs, start), narrow_search(search, start)]
    return min(ways, key=lambda steps: _counted(steps, search.pool, search.costs, 0.0, start).cost)


def greedy(pool: Tasks, costs: Costs, hand: Hand | None) -> list[Step]:
    """An order by always taking the change that buys the most cuts for its price. Raises ValueError for a cycle."""
    done, out = 0, []
    while done != pool.all:
        choices: list[tuple[float, int, Hand, int, list[Step]]] = []
        for task in (t for t in pool.tasks if pool.ready(t, done)):
            for new, cost in task.hands:
                after = done | pool.bit[task.id]
                more, extra, free = closure(pool, after, new)
                price = (cost + extra + costs.change(hand, new)) / (1 + len(free))
                choices.append((price, len(choices), new, after | more, [(task.id, new), *free]))
        if not choices:
            raise ValueError("the operations' precedence has a cycle: no order keeps it")
        _, _, hand, done, part = min(choices, key=lambda c: (c[0], c[1]))
        out += part
    return out


def _counted(steps: list[Step], pool: Tasks, costs: Costs, lower: float, start: Hand | None) -> Ordered:
    price = {(t.id, h): c for t in pool.tasks for h, c in t.hands}
    cost, hand = 0.0, start
    changes = {"machine": 0, "setup": 0, "tool": 0}
    for name, new in steps:
        cost += price[name, new] + costs.change(hand, new)
        if hand is not None:
            moved = hand.machine != new.machine
            changes["machine"] += moved
            changes["setup"] += moved or hand.setup != new.setup
            changes["tool"] += moved or hand.tool != new.tool
        hand = new
    return Ordered(tuple(steps), cost, min(lower, cost), changes)
