"""Drilled corner reliefs: a bore takes the sharp inner corner of two walls away, and with it the edge that joins them.

True cases: a dog-bone pocket that goes right through; a shoulder whose foot is relieved for a mating edge. Look-alikes: a
bore through an outer corner (each wall lies behind the other); a bore between two parallel walls; a bore that two slits
cross (each slit goes on beyond the other).
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations

from recognizer.outline import Plane2, Point, gap2, points2
from recognizer.rule import Claim, Context
from recognizer.vector import dot
from shared.features import HOLE_KINDS

SQUARE = 1e-6


def relief_ties(ctx: Context, faces: Iterable[int]) -> list[tuple[int, int]]:
    """Pairs of plane faces whose inner corner a hole has taken."""
    free = set(faces)
    found = []
    for claim in _open_holes(ctx):
        beside = _beside(ctx, claim)
        pairs = combinations([f for f in beside if f in free], 2)
        found += [pair for pair in pairs if _cornered(ctx, claim, beside, *pair)]
    return found


def relieved_radius(ctx: Context, a: int, b: int, corner: Point, plane: Plane2) -> float:
    """Radius of the largest cutter that brings two walls to size up to the relief in their corner; 0 where there is none."""
    if (min(a, b), max(a, b)) not in relief_ties(ctx, (a, b)):
        return 0.0
    return min(gap2(corner, q) for q in points2(ctx, (a, b), plane))


def _open_holes(ctx: Context) -> list[Claim]:
    """Holes that are open at a side; kept until there are more claims."""
    kept = ctx.__dict__.get("_open_holes")
    if kept is None or kept[0] != len(ctx.claims):
        holes = [c for c in ctx.claims if c.kind in HOLE_KINDS]
        kept = (len(ctx.claims), [c for c in holes if len(_beside(ctx, c)) > 1])
        ctx.__dict__["_open_holes"] = kept
    return kept[1]


def _beside(ctx: Context, claim: Claim) -> list[int]:
    """Planes along the hole's axis at whose edges its wall ends."""
    d = claim.direction
    return sorted(
        {
            n
            for f in claim.walls
            for n, e, sign in ctx.graph.links(f)
            if sign == "convex"
            and ctx.faces[n].kind == "plane"
            and abs(dot(ctx.faces[n].surface.axis, d)) < SQUARE
            and abs(dot(ctx.snapshot.edges[e].tangent, d)) > 1 - SQUARE
        }
    )


def _cornered(ctx: Context, claim: Claim, beside: list[int], a: int, b: int) -> bool:
    """Whether two planes, each all on the free side of the other, would meet within the hole."""
    plane = Plane2(claim.direction)
    (s, t), slack = (ctx.faces[f].surface for f in (a, b)), 4 * ctx.tol.length_mm
    (p, q), (u, v) = plane.at(s.axis), plane.at(t.axis)
    turn = p * v - q * u
    if abs(turn) < 0.1 or claim.axis_point is None:
        return False
    corner = ((s.offset * v - q * t.offset) / turn, (p * t.offset - s.offset * u) / turn)
    x, y = plane.at(claim.axis_point)
    radius = max(ctx.faces[f].surface.radius for f in claim.walls)
    if (corner[0] - x) ** 2 + (corner[1] - y) ** 2 > (radius + slack) ** 2:
        return False
    own, other = ([f for f in beside if ctx.graph.group[f] == ctx.graph.group[k]] for k in (a, b))
    return ctx.span(other, s.axis)[0] > s.offset - slack and ctx.span(own, t.axis)[0] > t.offset - slack
