"""The plan's own sequencing: all setups in one search over cutters, setups in their fixed order."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from planner.drafts import Draft
from planner.sequence import Costs, Hand, Ordered, Task, Tasks, order


@dataclass(frozen=True)
class Sequenced:
    """Drafts in cutting order, the number of tool changes, and the fewest there can be with this setup for each."""

    drafts: list[Draft]
    tool_changes: int
    lower_bound: int


def sequence(drafts: list[Draft], max_states: int = 20_000) -> Sequenced:
    """The order with the fewest tool changes; among equal ones by Draft.rank, then the nearest hole next."""
    ranked = sorted(drafts, key=lambda d: (d.slot, d.rank))
    by_key = {d.key: d for d in ranked}
    found = order(_tasks(ranked), Costs(tool=1.0), _bound_for(ranked), max_states)
    return Sequenced([by_key[k] for k, _ in found.steps], found.changes["tool"], _whole(found))


def _whole(found: Ordered) -> int:
    return round(found.lower_bound)


def _tasks(ranked: list[Draft]) -> list[Task]:
    """Tasks with one hand each; what is cut in a setup waits for all that is cut in the setups before."""
    keys = {d.key for d in ranked}
    earlier: dict[int, frozenset[str]] = {}
    for slot in sorted({d.slot for d in ranked}):
        earlier[slot] = frozenset(d.key for d in ranked if d.slot < slot)
    return [
        Task(d.key, ((Hand("", str(d.slot), d.operation.tool.id), 0.0),), frozenset(d.after & keys) | earlier[d.slot])
        for d in ranked
    ]


def _bound_for(ranked: list[Draft]) -> Callable[[Tasks, int, Hand | None], float]:
    """A lower bound on tool changes: the cutters each setup still needs, less one where two setups share a cutter."""
    slots = sorted({d.slot for d in ranked})
    tools = {s: frozenset(d.operation.tool.id for d in ranked if d.slot == s) for s in slots}
    tail = {s: 0 for s in slots}
    for here, after in zip(reversed(slots[:-1]), reversed(slots[1:]), strict=True):
        tail[here] = tail[after] + len(tools[after]) - bool(tools[here] & tools[after])
    slot_of, tool_of = [d.slot for d in ranked], [d.operation.tool.id for d in ranked]

    def bound(pool: Tasks, done: int, hand: Hand | None) -> float:
        left = pool.left(done)
        if not left:
            return 0.0
        slot = slot_of[left[0]]
        needed = {tool_of[i] for i in left if slot_of[i] == slot}
        held = hand.tool if hand else None
        return max(0, len(needed - {held}) - (hand is None)) + tail[slot]

    return bound
