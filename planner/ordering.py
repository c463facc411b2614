"""The plan's own sequencing: setup after setup, each searched exactly, cutters carried over from one to the next.

Setups follow each other in a fixed order, so only the cutter in the spindle links them. An end that costs one change
more than the best is never better, since any cutter can be had for one change: so from each setup only the cheapest ends
are kept, and the whole is exact where each setup is.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.drafts import Draft
from planner.sequence import Finish, Search, cheaper_order
from planner.tasks import Bound, Costs, Hand, Task, Tasks

COSTS = Costs(tool=1.0)
MAX_STATES = 30_000
"""States that a setup of up to 100 operations may take before the order of a narrow search is accepted: about 2 seconds."""


@dataclass(frozen=True)
class Sequenced:
    """Drafts in cutting order, the number of tool changes, and the fewest there can be with these setups."""

    drafts: list[Draft]
    tool_changes: int
    lower_bound: int


@dataclass(frozen=True)
class _Way:
    """A cheapest way through the setups so far: its steps, and the cutter it ends with."""

    steps: tuple[str, ...]
    end: Hand | None


def sequence(drafts: list[Draft], max_states: int = MAX_STATES) -> Sequenced:
    """The order with the fewest tool changes; among equal ones the preferred one by Draft.rank.

    Raises ValueError when `after` has a cycle.
    """
    slots = sorted({d.slot for d in drafts})
    ways, changes, bound, exact = [_Way((), None)], 0, 0, True
    for i, slot in enumerate(slots):
        here = sorted((d for d in drafts if d.slot == slot), key=lambda d: d.rank)
        after = {d.operation.tool.id for d in drafts if i + 1 < len(slots) and d.slot == slots[i + 1]}
        ways, paid, least = _through(here, after, ways, max_states)
        changes += paid
        bound += least if exact else max(0, least - 1)  # a better end of the setup before could save one here
        exact = exact and least == paid
    by_key = {d.key: d for d in drafts}
    ordered = [by_key[key] for key in ways[0].steps]
    return Sequenced(ordered, changes, min(bound, changes))


def _through(here: list[Draft], after: set[str], ways: list[_Way], max_states: int) -> tuple[list[_Way], int, int]:
    """The ways on through one setup, what it costs, and the fewest changes it could cost."""
    pool = _pool(here)
    wanted = frozenset(Hand("", "", t) for t in after & {d.operation.tool.id for d in here})
    by_start = {w.end: w for w in reversed(ways)}
    starts = list(dict.fromkeys(w.end for w in ways))
    limit = min(max_states, 100 * max_states // len(here))  # a state's price grows with the number of operations
    search = Search(pool, COSTS, _changes_left(pool))
    found, lower = search.run(starts, limit, wanted)
    if found:
        found.sort(key=lambda f: f.end not in wanted)  # an end that the next setup can use comes first
        return [_Way(by_start[f.start].steps + _keys(f), f.end) for f in found], round(found[0].cost), round(lower)
    start = ways[0].end
    steps = cheaper_order(search, start)
    hands = [hand for _, hand in steps]
    paid = sum(a != b for a, b in zip([start, *hands], hands, strict=False)) - (start is None)
    return [_Way(ways[0].steps + tuple(k for k, _ in steps), hands[-1])], paid, round(lower)


def _keys(finish: Finish) -> tuple[str, ...]:
    return tuple(key for key, _ in finish.steps)


def _pool(here: list[Draft]) -> Tasks:
    keys = {d.key for d in here}
    return Tasks([Task(d.key, ((Hand("", "", d.operation.tool.id), 0.0),), frozenset(d.after & keys)) for d in here])


def _changes_left(pool: Tasks) -> Bound:
    """A lower bound of the changes left: for each cutter, the most separate turns that any chain of waiting work gives it.

    Along a chain of operations that wait for each other, a cutter that comes, goes and comes back is put in twice. What
    is left is always closed upwards, so the turns of the chains that start at an operation are counted once and for all.
    The cutter in hand has done all it may (see `closure`), so it too must come back for what is left of it; the first
    cutter of all costs none.
    """
    turns = _turns(pool)

    def bound(_: Tasks, done: int, hand: Hand | None) -> float:
        total = 0
        for ranked in turns:
            total += next((n for bit, n in ranked if not done & bit), 0)
        at_hand = hand is None or (not done and any(pool.ready(t, 0) for t, _ in pool.free.get(hand, ())))
        return max(0, total - at_hand)

    return bound


def _turns(pool: Tasks) -> list[list[tuple[int, int]]]:
    """For each cutter its operations' bits, each with the most turns of that cutter in a chain from there on; most first."""
    tool = {t.id: t.hands[0][0].tool for t in pool.tasks}
    later: dict[str, list[str]] = {t.id: [] for t in pool.tasks}
    for task in pool.tasks:
        for before in task.after:
            later[before].append(task.id)
    found = []
    for name in dict.fromkeys(tool.values()):
        memo: dict[str, tuple[int, int]] = {}
        for key in _last_first(pool, later):
            on = max((memo[k][0] for k in later[key]), default=0)  # turns after it, where another cutter is in hand
            run = max((memo[k][1] for k in later[key]), default=0)  # the same, where this cutter is in hand
            memo[key] = (run + 1, run) if tool[key] == name else (on, on)
        found.append(sorted(((pool.bit[k], memo[k][0]) for k in memo if tool[k] == name), key=lambda p: (-p[1], p[0])))
    return found


def _last_first(pool: Tasks, later: dict[str, list[str]]) -> list[str]:
    """Tasks so that each comes after all that wait for it."""
    out: dict[str, None] = {}
    waiting = {t.id: len(later[t.id]) for t in pool.tasks}
    ready = [k for k, n in waiting.items() if not n]
    before = {t.id: t.after for t in pool.tasks}
    while ready:
        key = ready.pop()
        out[key] = None
        for k in sorted(before[key]):
            waiting[k] -= 1
            if not waiting[k]:
                ready.append(k)
    return list(out)
