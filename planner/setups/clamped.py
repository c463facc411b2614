"""The fewest clampings, proven: the same rules with a slot for each clamping, in which its directions come in any order.

Every plan with so many clampings is a solution of this model, so what it refuses no plan can do. Setups within a
clamping are ordered afterwards.
"""

from __future__ import annotations

from collections.abc import Callable

from planner.setups.rules import cut_once, facing_first, held_sides, jaws, parents_first, raw_grip
from planner.setups.variables import Variables

Rule = Callable[[Variables], None]


def any_direction(v: Variables) -> None:
    """One way to hold a clamping; what is cut in it comes from the directions that this leaves open."""
    for k in range(v.slots):
        v.model.add_exactly_one(v.mode[k, m] for m in range(len(v.problem.modes)))
        for d in range(len(v.problem.directions)):
            v.model.add_bool_or(
                [v.mode[k, m] for m, mode in enumerate(v.problem.modes) if d in mode.directions]
            ).only_enforce_if(v.direction[k, d])
    for same in v.same.values():
        v.model.add(same == 0)


RULES: tuple[Rule, ...] = (
    any_direction,
    cut_once.add,
    parents_first.add,
    facing_first.add,
    held_sides.add,
    jaws.add,
    raw_grip.add,
)
