"""Flanks of a vee groove with a relief slot along its bottom: two leaning planes far wider than the slot between.

True case: a V-block. Look-alike: the small chamfers at the mouth of a slot, and even large ones, up to a few of its widths.
"""

from __future__ import annotations

from recognizer.rule import Context
from recognizer.vector import dot

WIDER = 3.0
"""Flanks so many times as wide as the slot between them are what the slot was cut for; narrower ones broke its edges."""


def relieved_vees(ctx: Context) -> list[frozenset[int]]:
    """Pairs of flanks, in order; from flank to wall to the slot's floor to the wall and the flank across."""
    found = set()
    for f in range(len(ctx.faces)):
        for w in _reliefs(ctx, f):
            for v in _across(ctx, w):
                flanks = (n for n, _, sign in ctx.graph.links(v) if sign == "convex" and n > f)
                found |= {frozenset((f, g)) for g in flanks if v in _reliefs(ctx, g) and _facing(ctx, (f, w), (g, v))}
    return sorted(found, key=sorted)


def _across(ctx: Context, wall: int) -> list[int]:
    """Planes on the far side of the floors that a wall stands on."""
    floors = [n for n, _, sign in ctx.graph.links(wall) if sign == "concave"]
    return [v for n in floors for v, _, sign in ctx.graph.links(n) if sign == "concave" and v != wall]


def _reliefs(ctx: Context, face: int) -> list[int]:
    """Planes that fall away from a leaning plane's long edge."""
    if ctx.faces[face].kind != "plane" or face in ctx.box_faces:
        return []
    axis = ctx.faces[face].surface.axis
    if any(abs(dot(axis, a)) > 1 - 1e-6 for a in ctx.frame.axes):
        return []
    return [n for n, _, sign in ctx.graph.links(face) if sign == "convex" and ctx.faces[n].kind == "plane"]


def _facing(ctx: Context, one: tuple[int, int], other: tuple[int, int]) -> bool:
    """Whether two flanks lean evenly away from two walls that face each other far closer than either flank is wide."""
    (f, w), (g, v) = one, other
    n, back = ctx.faces[w].surface, ctx.faces[v].surface
    if f in (w, v) or g in (w, v) or dot(n.axis, back.axis) > -1 + 1e-9:
        return False
    gap = -back.offset - n.offset
    lean = dot(ctx.faces[f].surface.axis, n.axis)
    if gap <= 0 or lean <= 0 or abs(lean + dot(ctx.faces[g].surface.axis, n.axis)) > 1e-6:
        return False
    widths = [high - low for low, high in (ctx.extent(k, n.axis) for k in (f, g))]
    same_way = dot(ctx.faces[f].surface.axis, ctx.faces[g].surface.axis) > 1 - 2 * lean * lean - 1e-6
    return min(widths) > WIDER * gap and same_way
