"""The rules of the setup model: one constraint a file, listed here in the order in which they are added."""

from __future__ import annotations

from planner.setups.rules import (
    clamping_continues,
    cut_once,
    facing_first,
    held_sides,
    jaws,
    one_direction,
    one_mode,
    parents_first,
    raw_grip,
)

CUTTING = (one_direction.add, cut_once.add, parents_first.add, facing_first.add)
"""Rules of order and direction."""
HOLDING = (one_mode.add, held_sides.add, jaws.add, raw_grip.add, clamping_continues.add)
"""Rules of holding the workpiece."""
RULES = CUTTING + HOLDING
