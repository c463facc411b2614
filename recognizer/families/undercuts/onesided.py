"""One-sided dovetails: a flat floor with one wall that leans over it, open on the other side.

True case: either flank of a male dovetail; a gib's seat. Look-alikes: a vee notch whose lower side happens to lie flat
(the other side covers it); a slanted step (its wall leans away from the floor).
"""

from __future__ import annotations

from math import acos, degrees

from recognizer.rule import Claim, Context
from recognizer.vector import cross, dot, neg, unit
from shared.findings import Finding

FLANK_DEG = (40.0, 75.0)
"""Flank angles of dovetail cutters, 45 to 70 degrees as a rule: common practice, no source."""
SEEN = 0.5
"""Of the floor's width at least this much stands free of the wall that leans over it."""


def half_dovetail(ctx: Context, body: frozenset[int], finding: Finding) -> Claim | None:
    """The claim of a body of two planes that meet in a sharp inner edge, the floor square to the part's box."""
    groups = {ctx.graph.group[f] for f in body}
    if len(groups) != 2 or any(ctx.faces[f].kind != "plane" for f in body):
        return None
    for floor in sorted(body):
        d = ctx.faces[floor].surface.axis
        if all(abs(dot(d, a)) < 1 - 1e-6 for a in ctx.frame.axes):
            continue
        flanks = sorted(f for f in body if ctx.graph.group[f] != ctx.graph.group[floor])
        claim = _claim(ctx, body, sorted(body - set(flanks)), flanks, finding)
        if claim:
            return claim
    return None


def _claim(ctx: Context, body: frozenset[int], floors: list[int], flanks: list[int], finding: Finding) -> Claim | None:
    d, n = ctx.faces[floors[0]].surface.axis, ctx.faces[flanks[0]].surface.axis
    angle = degrees(acos(max(-1.0, min(1.0, -dot(d, n)))))  # of the air between floor and flank
    if not FLANK_DEG[0] <= angle <= FLANK_DEG[1]:
        return None
    e = unit(cross(d, n))
    away = unit(cross(e, d))
    away = away if dot(away, n) > 0 else neg(away)
    (start, end), (low, high) = ctx.span(floors, away), ctx.span(body, d)
    edge = max(ctx.span([f], away)[1] for f in flanks)  # where the flank's upper edge overhangs
    if end - edge < SEEN * (end - start):
        return None
    along = ctx.span(body, e)
    return Claim(
        "undercut",
        body,
        d,
        [
            f"a wall leans {angle:.4g} degrees over a floor {end - start:.4g} mm wide that is open on its other side",
            "a one-sided dovetail: clear what stands free first, then a dovetail_mill of that angle from the open side",
        ],
        bottom=frozenset(floors),
        walls=frozenset(flanks),
        bottom_condition="planar",
        profile="general",
        dimensions={"length": along[1] - along[0], "width": end - edge, "depth": high - low, "flank_angle": angle},
        findings=[finding.model_copy(update={"faces": sorted(body)})],
    )
