"""What the simulation found: nothing may be gouged or collide, and nothing may stay that no finding names."""

from __future__ import annotations

import math
from collections.abc import Iterator

from planner.checks.index import Index, fault
from shared.findings import Finding
from shared.proof import NO_ROOM, Lump


def gouges(index: Index) -> Iterator[Finding]:
    """No operation takes material off the part."""
    by_operation: dict[str, list[Lump]] = {}
    for lump in index.plan.proof.gouges:
        by_operation.setdefault(lump.operation or "", []).append(lump)
    for name, found in by_operation.items():
        worst = max(found, key=lambda lump: lump.thickness)
        volume = sum(lump.volume for lump in found)
        text = f"{name} cuts {volume:.2f} mm3 off the part, up to {worst.thickness:.2f} mm deep at {_place(worst)}"
        faces = sorted({lump.face for lump in found if lump.face is not None})
        yield fault("gouged", text, features=sorted({x.feature for x in found if x.feature}), faces=faces)


def rests(index: Index) -> Iterator[Finding]:
    """What stays is named beforehand: a corner, a gap, a feature that cannot be planned."""
    by_feature: dict[str, list[Lump]] = {}
    for lump in index.plan.proof.left:
        if lump.named is None:
            by_feature.setdefault(lump.feature or "", []).append(lump)
    for name, found in by_feature.items():
        worst = max(found, key=lambda lump: lump.thickness)
        volume = sum(lump.volume for lump in found)
        by = f"; {worst.operation} should have taken it" if worst.operation else ""
        on = f" on {name}" if name else ""
        text = f"{volume:.2f} mm3 stay{on}, up to {worst.thickness:.2f} mm thick at {_place(worst)}{by}"
        faces = sorted({lump.face for lump in found if lump.face is not None})
        yield fault("left_uncut", text, features=[name] if name else [], faces=faces)


def unproven(index: Index) -> Iterator[Finding]:
    """Nothing worth speaking of is left to operations that the simulation could not follow."""
    simulation = index.plan.proof.simulation
    lumps = [lump for lump in index.plan.proof.left if lump.named == "not_cut"]
    volume = sum(lump.volume for lump in lumps)
    if simulation is None or volume <= UNPROVEN_MM3:
        return
    names = sorted({lump.operation for lump in lumps if lump.operation})
    why = "; ".join(sorted({simulation.not_cut[n] for n in names if n in simulation.not_cut}))
    features = sorted({lump.feature for lump in lumps if lump.feature})
    text = f"{volume:.1f} mm3 are left to {', '.join(names)}, which the simulation could not follow: {why}"
    yield fault("not_proven", text, features=features)


def room(index: Index) -> Iterator[Finding]:
    """Every cutter has a place in the region that it is sent to."""
    simulation = index.plan.proof.simulation
    for name, reason in (simulation.not_cut if simulation else {}).items():
        if NO_ROOM in reason:
            features = next((p.op.features for p in index.placed if p.op.id == name), [])
            yield fault("no_room", f"{name} finds no room: {reason}", features=list(features))


def collisions(index: Index) -> Iterator[Finding]:
    """Nothing meets that must not; a holder that is only assumed is a warning of the plan, no fault."""
    for found in index.plan.proof.collisions:
        if found.assumed:
            continue
        features = next((p.op.features for p in index.placed if p.op.id == found.operation), [])
        yield fault(f"{found.kind}_collision", found.message, features=list(features))


def figures(index: Index) -> Iterator[Finding]:
    """The sums are those of what is listed, and what is taken off and what stays are the block."""
    proof, simulation = index.plan.proof, index.plan.proof.simulation
    if simulation is None:
        return
    for name, total, lumps in (("left", proof.left_uncut, proof.left), ("gouged", proof.gouged, proof.gouges)):
        if total is None or total < SUM * sum(lump.volume for lump in lumps):
            yield fault("simulation_sum", f"{total or 0.0:.2f} mm3 {name} are said, more are listed")
    block = math.prod(index.plan.job.stock.size)
    if abs(simulation.removed + simulation.workpiece - block) > (1.0 - SUM) * block:
        text = f"{simulation.removed:.1f} mm3 taken off and {simulation.workpiece:.1f} left are not the block's {block:.1f}"
        yield fault("simulation_sum", text)
    taken = sum(p.op.removed or 0.0 for p in index.placed)
    if abs(taken - simulation.removed) > (1.0 - SUM) * max(simulation.removed, 1.0):
        yield fault(
            "simulation_sum", f"the operations take {taken:.1f} mm3, the simulation says {simulation.removed:.1f}"
        )


UNPROVEN_MM3 = 1.0
SUM = 0.99
"""Share to which sums agree: rays count areas."""


def _place(lump: Lump) -> str:
    return "(" + ", ".join(f"{v:.1f}" for v in lump.at) + ")"


CHECKS = (gouges, rests, unproven, room, collisions, figures)
