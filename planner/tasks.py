"""What is to be put in order: tasks with the hands that can do them, what changes cost, and tasks as bits."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple


class Hand(NamedTuple):
    """What is set up now: machine, setup (or access direction) and cutter."""

    machine: str
    setup: str
    tool: str


@dataclass(frozen=True)
class Task:
    """Something to cut: the hands that can do it with what each costs, and the tasks that must be done before.

    Of the tasks that share a `group` exactly one is done. A task in `after` that is not chosen of its group does not
    bind.
    """

    id: str
    hands: tuple[tuple[Hand, float], ...]
    after: frozenset[str] = frozenset()
    group: str = ""

    @cached_property
    def cheapest(self) -> float:
        """Lowest cost over its hands."""
        return min(cost for _, cost in self.hands)


@dataclass(frozen=True)
class Costs:
    """What one change costs. `machine` may be a table from machine to machine."""

    machine: float | Mapping[str, Mapping[str, float]] = 0.0
    setup: float = 0.0
    tool: float = 1.0

    def change(self, old: Hand | None, new: Hand) -> float:
        """Cost of going from `old` to `new`; nothing before the first operation. A new machine is a new setup too."""
        if old is None or old == new:
            return 0.0
        moved = old.machine != new.machine
        cost = self._move(old.machine, new.machine) if moved else 0.0
        cost += self.setup if moved or old.setup != new.setup else 0.0
        return cost + (self.tool if moved or old.tool != new.tool else 0.0)

    def _move(self, old: str, new: str) -> float:
        return self.machine if isinstance(self.machine, int | float) else self.machine[old][new]


@dataclass(frozen=True)
class Ordered:
    """The order found: (task, hand) pairs, its cost, a proven lower bound, and how many changes of each kind."""

    steps: tuple[tuple[str, Hand], ...]
    cost: float
    lower_bound: float
    changes: dict[str, int] = field(default_factory=dict)

    @property
    def optimal(self) -> bool:
        """Whether the cost is proven lowest."""
        return self.cost <= self.lower_bound + 1e-6


Step = tuple[str, Hand]
State = tuple[int, Hand | None]
Bound = Callable[["Tasks", int, Hand | None], float]


class Tasks:
    """Tasks as bits: `done` masks hold one bit a group, bit i for the i-th group in the given order.

    A mask does not say which member of a group was done: what waits for a group must wait for any of its members (see
    `settled`).
    """

    def __init__(self, tasks: Sequence[Task]) -> None:
        self.tasks = list(tasks)
        groups = list(dict.fromkeys(t.group or t.id for t in tasks))
        self.bit = {t.id: 1 << groups.index(t.group or t.id) for t in tasks}
        self.all = (1 << len(groups)) - 1
        self.members = [[t for t in tasks if (t.group or t.id) == g] for g in groups]
        self.needs = {t.id: self._mask(t.after) & ~self.bit[t.id] for t in tasks}
        self.least = [min(t.cheapest for t in members) for members in self.members]
        self.free: dict[Hand, list[tuple[Task, float]]] = {}
        self.dear: list[tuple[Task, Hand, float]] = []
        for task in self.tasks:
            for hand, cost in task.hands:
                if cost > self.least[self.bit[task.id].bit_length() - 1] + 1e-9:
                    self.dear.append((task, hand, cost))
                else:
                    self.free.setdefault(hand, []).append((task, cost))

    def _mask(self, ids: Iterable[str]) -> int:
        mask = 0
        for name in ids:
            mask |= self.bit.get(name, 0)
        return mask

    def ready(self, task: Task, done: int) -> bool:
        """Whether the task may be cut now."""
        return not done & self.bit[task.id] and not self.needs[task.id] & ~done

    def left(self, done: int) -> list[int]:
        """Indices of the groups not done."""
        return [i for i in range(len(self.members)) if not done >> i & 1]
