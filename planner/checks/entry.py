"""How a cutter gets into the material: no plunge with an end mill, no way in from outside where walls stand all round."""

from __future__ import annotations

from collections.abc import Iterator

from planner.checks.index import Index, fault
from shared.features import HOLE_KINDS
from shared.findings import Finding

PLUNGERS = ("twist_drill", "center_drill", "countersink", "tap", "reamer", "boring_tool", "counterbore")


def plunge(index: Index) -> Iterator[Finding]:
    """Only cutters that cut on their tip plunge along their axis."""
    for p in index.placed:
        if p.op.entry.startswith("plunge_toolaxis") and p.op.tool.kind not in PLUNGERS:
            text = f"{p.op.id}: a {p.op.tool.kind} plunges along its axis"
            yield fault("plunge", text, features=p.op.features)
        elif p.op.tool.kind == "facemill" and p.op.entry.startswith("plunge_"):
            text = f"{p.op.id}: a face mill has no cutting edges in its middle; it cannot go down ({p.op.entry})"
            yield fault("plunge", text, features=p.op.features)


def from_outside(index: Index) -> Iterator[Finding]:
    """A pocket or hole closed all round is not entered from outside."""
    for p, name, view in index.views():
        closed = view.kind == "closed_pocket" or view.kind in HOLE_KINDS
        if closed and view.open_sides == 0 and p.op.entry.startswith("from outside"):
            yield fault("entry_through_wall", f"{p.op.id} enters {name} from outside, through a wall", features=[name])


def said(index: Index) -> Iterator[Finding]:
    """Every operation says how it enters and by which strategy it moves."""
    for p in index.placed:
        if not p.op.entry.strip() or not p.op.strategy.strip():
            yield fault("no_entry", f"{p.op.id} does not say how it enters or moves", features=p.op.features)


CHECKS = (plunge, from_outside, said)
