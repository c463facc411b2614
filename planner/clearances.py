"""What cutters do below and beside the workpiece in each clamping: cuts past what it rests on, and cuts out to the jaws."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.cutting import point_length
from planner.problem import Problem
from planner.setups import Slot
from planner.stock import SIDES, dot, opposite
from shared.features import View
from shared.findings import Finding
from shared.plan import Operation, Setup
from shared.units import Mm

LOWEST_GRIP: Mm = 5.0
"""Height that jaws should keep below the deepest cut that opens on them; common practice, no source."""
SHOWN = 6
"""Operations that a finding names before it only counts."""


def clearances(
    problem: Problem, slots: Sequence[Slot], setups: Sequence[Setup], cut: Sequence[frozenset[str]]
) -> list[Finding]:
    """Findings for cutters that pass the rest side or run out where the jaws are; `cut`: sides at size before each setup."""
    out: list[Finding] = []
    for slot, setup, before in zip(slots, setups, cut, strict=True):
        side = problem.stock.side_of(setup.direction)
        rest = slot.mode.rest
        if side is None or slot.mode.fixture or rest is None or rest != opposite(side):
            continue
        level = -(problem.stock.part_level(rest) if rest in before else problem.stock.raw_level(rest))
        out += [*_below(setup, level), *_beside(problem, slot, setup, level)]
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


def _beside(problem: Problem, slot: Slot, setup: Setup, level: Mm) -> Iterator[Finding]:
    if slot.mode.pair is None or slot.mode.grip:
        return
    lowest: dict[str, tuple[Mm, str]] = {}
    for op in setup.operations:
        for name in op.features:
            view = _view(problem, name, setup)
            for side in (
                s for s in SIDES if s[1] == slot.mode.pair and view is not None and opens_on(problem, view, s)
            ):
                grip = max(deepest(op) - level, 0.0)
                lowest[side] = min(lowest.get(side, (grip, name)), (grip, name))
    low = {side: found for side, found in lowest.items() if found[0] < LOWEST_GRIP}
    if not low:
        return
    where = " and ".join(f"{grip:.1f} mm on {side} ({name})" for side, (grip, name) in sorted(low.items()))
    yield Finding(
        code="low_grip",
        severity="warning",
        message=f"{setup.id}: below the cuts that run out to the jaws there is little to hold: {where}",
        hint="hold it where nothing runs out, with narrower or soft jaws, or leave more stock below to grip",
    )


def _view(problem: Problem, name: str, setup: Setup) -> View | None:
    work = problem.works.get(name)
    ways = work.ways.values() if work else ()
    return next((w.view for w in ways if dot(w.view.direction, setup.direction) > 1.0 - 1e-6), None)


def opens_on(problem: Problem, view: View, side: str) -> bool:
    """Whether an open side of the view lies on a stock side: the cutter runs out there."""
    out = problem.stock.direction(side)
    near = problem.stock.part_level(side) - problem.stock.tolerances.near_miss_mm
    return view.kind != "planar_face" and any(
        s.open and dot(s.start, out) >= near and dot(s.end, out) >= near for s in view.sides
    )
