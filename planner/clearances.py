"""What cutters do below the workpiece in each clamping: cuts past what it rests on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.cutting import point_length
from planner.problem import Problem
from planner.setups import Slot
from planner.stock import opposite
from shared.findings import Finding
from shared.plan import Operation, Setup
from shared.units import Mm

SHOWN = 6
"""Operations that a finding names before it only counts."""


def clearances(
    problem: Problem, slots: Sequence[Slot], setups: Sequence[Setup], cut: Sequence[frozenset[str]]
) -> list[Finding]:
    """Findings for cutters that pass the rest side; `cut`: sides at size before each setup."""
    out: list[Finding] = []
    for slot, setup, before in zip(slots, setups, cut, strict=True):
        side = problem.stock.side_of(setup.direction)
        rest = slot.mode.rest
        if side is None or slot.mode.fixture or rest is None or rest != opposite(side):
            continue
        level = -(problem.stock.part_level(rest) if rest in before else problem.stock.raw_level(rest))
        out += _below(setup, level)
    return out


def deepest(op: Operation) -> Mm:
    """Lowest level that the cutter's tip reaches, a drill's point included."""
    tip = point_length(op.tool.DC, op.tool.SIG or 118.0) if op.tool.kind == "twist_drill" else 0.0
    return op.levels.bottom - op.levels.break_through - tip


def _below(setup: Setup, level: Mm) -> Iterator[Finding]:
    past = [op for op in setup.operations if deepest(op) < level - 1e-3]
    if not past:
        return
    far = max(level - deepest(op) for op in past)
    names = ", ".join(op.id for op in past[:SHOWN]) + (f" and {len(past) - SHOWN} more" if len(past) > SHOWN else "")
    yield Finding(
        code="cuts_below_rest",
        severity="warning",
        message=f"{setup.id}: {names} pass what the workpiece rests on, by up to {far:.1f} mm",
        hint=f"set it on parallels more than {far:.1f} mm high and clear of these cuts; never over the bare vise or table",
    )
