"""Grooves in a hole's wall: a bore wider than what lies between it and every open end of its hole.

True case: a retaining ring's or O-ring's groove in a bore; a relief at the bottom of a blind bore. Look-alikes: a
counterbore (it opens at an end); the middle of a bore that is narrower than both its ends.
"""

from __future__ import annotations

from recognizer.families.holes.bores import Bore
from recognizer.families.holes.chain import Chain, neighbours
from recognizer.rule import Claim, Context
from shared.findings import Finding

WIDER_MM = 0.02


def grooves_of(chain: Chain) -> list[Bore]:
    """Cylinders of a chain that no straight tool gets into; none where nothing else would be left of it."""
    sizes = [max(chain.end_radius(b, True), chain.end_radius(b, False)) for b in chain.bores]
    least = [min(chain.end_radius(b, True), chain.end_radius(b, False)) for b in chain.bores]
    found = []
    for k, b in enumerate(chain.bores):
        ways = [least[:k]] + ([] if chain.floors else [least[k + 1 :]])
        if b.surface.kind == "cylinder" and all(way and min(way) < sizes[k] - WIDER_MM for way in ways):
            found.append(b)
    return found if any(b.surface.kind == "cylinder" for b in chain.bores if b not in found) else []


def groove_claim(ctx: Context, chain: Chain, groove: Bore, top: float) -> Claim:
    """The groove with the rings above and below it; top: level of the hole's mouth, for the depth that a cutter reaches."""
    low, high = chain.level(groove)
    above = [b for b in chain.bores if chain.level(b)[0] > low and b is not groove]
    neck = 2 * min(min(chain.end_radius(b, True), chain.end_radius(b, False)) for b in above)
    rings = {f for f in neighbours(ctx, groove.faces) if f in chain.shoulders}
    faces = frozenset(groove.faces) | rings
    diameter = 2 * groove.surface.radius
    return Claim(
        "undercut",
        faces,
        chain.out,
        [
            f"a bore of {diameter:.4g} mm behind one of {neck:.4g} mm: no straight tool gets into it",
            "a groove in the wall: bore the hole first, then a t_slot_mill that passes the bore goes round in it",
        ],
        walls=faces,
        profile="general",
        dimensions={
            "width": diameter,
            "neck_width": neck,
            "height": high - low,
            "depth": top - low,
            "side": (diameter - neck) / 2,
        },
        findings=[_finding(faces, neck, high - low, (diameter - neck) / 2)],
    )


def _finding(faces: frozenset[int], neck: float, height: float, side: float) -> Finding:
    return Finding(
        code="undercut",
        severity="warning",
        message=f"a groove {side:.3g} mm deep and {height:.3g} mm wide in a hole's wall needs a t_slot_mill or a boring head",
        hint=f"its head must pass {neck:.4g} mm and stand out {side:.3g} mm beyond its neck",
        faces=sorted(faces),
    )
