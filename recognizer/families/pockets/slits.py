"""Slits: two flat walls that face each other across a narrow gap, with no floor between them.

True case: the slit of a clamp, which ends in the bore. Look-alikes: the two sides of a thin rib (they face away from each
other); the facing sides of two lugs far apart.
"""

from __future__ import annotations

from itertools import combinations

from recognizer.bodies import bodies
from recognizer.outline import Plane2, face_polygon
from recognizer.rule import Context
from recognizer.vector import dot

NARROW = 0.5
"""A slit is narrower than this share of its walls' length."""
OVERLAP = 0.9
"""Of the smaller wall lies across from the other."""


def slits(ctx: Context) -> list[frozenset[int]]:
    """Pairs of lone plane walls."""
    lone = [min(b) for b in bodies(ctx) if len(b) == 1 and ctx.faces[min(b)].kind == "plane"]
    found: list[frozenset[int]] = []
    for a, b in combinations(sorted(lone), 2):
        if not any({a, b} & pair for pair in found) and _facing(ctx, a, b):
            found.append(frozenset((a, b)))
    return found


def _facing(ctx: Context, a: int, b: int) -> bool:
    one, other = ctx.faces[a].surface, ctx.faces[b].surface
    gap = -one.offset - other.offset
    if dot(one.axis, other.axis) > -1 + 1e-9 or gap <= 0:
        return False
    beside = [{n for n, _, sign in ctx.graph.links(f) if sign == "convex"} for f in (a, b)]
    if len(beside[0] & beside[1]) < 2:
        return False  # no two faces at which both walls end: not one cut
    shapes = [face_polygon(ctx, f, Plane2(one.axis)) for f in (a, b)]
    smaller = min(s.area for s in shapes)
    return gap < NARROW * smaller**0.5 and shapes[0].intersection(shapes[1]).area > OVERLAP * smaller
