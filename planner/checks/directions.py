"""Directions and work planes: every operation is cut from a direction that reaches its feature."""

from __future__ import annotations

from collections.abc import Iterator

from planner.checks.index import DIAMETER, LEVEL, Index, dot, fault
from shared.findings import Finding


def reachable(index: Index) -> Iterator[Finding]:
    """Each feature has a reachable view from the setup's direction."""
    for p in index.placed:
        for name in p.op.features:
            if name in index.features and index.view(name, p.setup.direction) is None:
                text = f"{p.op.id} cuts {name} along {p.setup.direction}, from where it cannot be reached"
                yield fault("not_reachable", text, features=[name])


FROM_BEHIND = ("t_slot_mill", "backside_counterbore")
"""Cutters that work behind something narrower than they are."""


def hidden_steps(index: Index) -> Iterator[Finding]:
    """No operation brings a step of a hole to size that a narrower one hides from its side; groove cutters and back counterbores may."""
    for p in index.placed:
        for name in p.op.features:
            feature = index.features.get(name)
            if feature is None or feature.axis is None or p.op.tool.kind in FROM_BEHIND:
                continue
            turn = dot(feature.axis.direction, p.setup.direction)
            if abs(turn) < 0.99:
                continue
            free = float("inf")
            for step in sorted(feature.steps, key=lambda s: -turn * (s.top + s.bottom)):
                if step.surface == "cylinder" and step.diameter > free + DIAMETER and set(step.faces) & set(p.op.faces):
                    text = f"{p.op.id} brings a step of {step.diameter:g} mm to size behind one of {free:g} mm"
                    yield fault("step_hidden", text, features=[name], faces=step.faces)
                free = min(free, step.end_diameter)


def work_planes(index: Index) -> Iterator[Finding]:
    """Direction and x axis are unit vectors and square to each other; the clearance plane clears the origin."""
    for setup in index.plan.setups:
        if abs(dot(setup.direction, setup.direction) - 1.0) > 1e-4 or abs(dot(setup.x_axis, setup.x_axis) - 1.0) > 1e-4:
            yield fault("not_unit", f"{setup.id}: direction and x axis must be unit vectors")
        if abs(dot(setup.direction, setup.x_axis)) > 1e-3:
            yield fault("work_plane_not_square", f"{setup.id}: the x axis is not square to the direction")
        highest = max([dot(setup.origin, setup.direction), *(op.levels.top for op in setup.operations)])
        if setup.clearance <= highest + LEVEL:
            yield fault(
                "clearance_too_low", f"{setup.id}: the clearance plane does not clear the stock and what is cut"
            )
        level = index.box_level(setup.direction)
        if level is not None and dot(setup.origin, setup.direction) < level - LEVEL:
            yield fault(
                "origin_below_top", f"{setup.id}: the origin lies below the part's top, where it cannot be probed"
            )


def empty(index: Index) -> Iterator[Finding]:
    """A setup without operations is none."""
    for setup in index.plan.setups:
        if not setup.operations:
            yield fault("empty_setup", f"{setup.id} cuts nothing")


CHECKS = (reachable, hidden_steps, work_planes, empty)
