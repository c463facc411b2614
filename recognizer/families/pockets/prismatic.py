"""Pockets, steps and slots: bodies whose sides decide their kind.

True cases: floor and four walls, closed_pocket; floor and one wall, step; floor between two facing walls, slot.
Look-alikes: a floor with a wall on one side that is an island's (open_pocket or step by its outline, not a boss);
a half cylinder with sharp edges (a slot of circular section, not a hole).
"""

from __future__ import annotations

from recognizer.bodies import joined
from recognizer.rule import Claim, Context
from recognizer.views import Look, looks, profile_of


def pockets(ctx: Context) -> list[Claim]:
    """One claim a body of two faces or more, or of a hollow face."""
    rest = [f for f in ctx.free() if f not in ctx.box_faces]
    found = []
    for body in joined(ctx, ctx.graph.components(rest)):
        if len({ctx.graph.group[f] for f in body}) < 2 and not any(ctx.graph.hollow(f) for f in body):
            continue
        claim = pocket_claim(ctx, body)
        if claim is not None:
            found.append(claim)
    return found


def pocket_claim(ctx: Context, body: frozenset[int]) -> Claim | None:
    """The claim of a body named from its best direction, or None where every direction has a face turned away."""
    seen = looks(ctx, body)
    if not seen:
        return None
    best = seen[0]
    kind = best.kind
    return Claim(
        kind,
        body,
        best.d,
        _because(best),
        bottom=frozenset(best.reading.floors),
        walls=frozenset(best.reading.walls + best.reading.leans) - best.reading.blends,
        blends=best.reading.blends,
        through=best.through,
        profile=profile_of(ctx, best),
    )


def _because(look: Look) -> list[str]:
    closed, opens = len(look.outline.closed), len(look.outline.opens)
    floor = "no floor: it goes right through" if look.through else f"{len(look.reading.floors)} floor face(s)"
    if look.reading.leans and not look.reading.floors:
        floor = "no flat floor: its walls lean"
    text = f"{closed} closed and {opens} open side(s), {floor}"
    reason = {
        "closed_pocket": "no open side makes it a closed_pocket",
        "step": "one straight wall makes it a step",
        "slot": "two facing parallel walls with open ends make it a slot",
        "open_pocket": "some sides open, some closed make it an open_pocket",
        "planar_face": "no wall rises on any side",
    }[look.kind]
    return [text, reason]
