"""Tee or dovetail slots that cross at one level, whose floors and ceilings have run together, or end in a hole of theirs.

True case: the crossing slots of a fixture plate. Look-alikes: a slot with an end wall, a pocket whose walls lean over its
floor (there walls of two ways meet in inner corners).
"""

from __future__ import annotations

from dataclasses import replace

from recognizer.rule import Claim, Context
from recognizer.vector import canonical, cross, dot, length, unit
from shared.units import Vector


def arms_of(ctx: Context, body: frozenset[int], floor: int) -> list[frozenset[int]]:
    """The walls of each of two ways, with all floors and ceilings; nothing where there is one way, or a corner."""
    d = ctx.faces[floor].surface.axis
    ways: dict[Vector, set[int]] = {}
    level: set[int] = set()
    for f in sorted(body):
        across = cross(d, ctx.faces[f].surface.axis)
        if length(across) < 1e-6:
            level.add(f)
            continue
        e = canonical(unit(across))
        ways.setdefault(next((w for w in ways if dot(w, e) > 1 - 1e-6), e), set()).add(f)
    if len(ways) != 2:
        return []
    first, second = ways.values()
    if any(sign == "concave" and n in second for f in first for n, _, sign in ctx.graph.links(f)):
        return []
    return [frozenset(walls | level) for walls in (first, second)]


def apart(claims: list[Claim]) -> list[Claim]:
    """Claims of which each owns what none before it does."""
    taken: set[int] = set()
    out = []
    for c in claims:
        own, shared = c.faces - taken, c.faces & taken
        why = [f"{len(shared)} of its faces run on in a slot that crosses it, which owns them"] if shared else []
        out.append(
            replace(
                c,
                faces=own,
                shared=frozenset(shared),
                bottom=c.bottom & own,
                walls=c.walls & own,
                because=c.because + why,
            )
        )
        taken |= c.faces
    return out


def with_entry(claim: Claim, rounds: frozenset[int]) -> Claim:
    """A claim with the round hole on its own floor."""
    why = "it ends in a round hole down to its floor, by which the cutter enters"
    return replace(claim, faces=claim.faces | rounds, walls=claim.walls | rounds, because=[*claim.because, why])
