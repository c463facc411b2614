"""What the rules of the outside ask of upright walls."""

from __future__ import annotations

from collections.abc import Set

from recognizer.rule import Context
from recognizer.tilts import FLAT, tilt
from recognizer.vector import dot
from shared.units import Vector

CORNER_DEG = 50.0
"""Two askew planes that bend by less are a chamfer and what it breaks into."""


def upright(ctx: Context, face: int, d: Vector) -> bool:
    """Whether no normal of a face leans from square to d."""
    low, high = tilt(ctx, face, d)
    return low > -10 * FLAT and high < 10 * FLAT


def along(ctx: Context, edge: int, d: Vector) -> bool:
    """Whether an edge is a line along d."""
    e = ctx.snapshot.edges[edge]
    return e.curve == "line" and abs(dot(e.tangent, d)) > 1 - 1e-6


def as_wide_as_the_part(ctx: Context, ring: Set[int], d: Vector) -> bool:
    """Whether a ring reaches the box on all sides across d, to within 2 %."""
    for k, axis in enumerate(ctx.frame.axes):
        if abs(dot(axis, d)) > 0.5:
            continue
        low, high = ctx.span(ring, axis)
        slack = 0.02 * ctx.frame.size[k]
        if low > ctx.frame.low[k] + slack or high < ctx.frame.high[k] - slack:
            return False
    return True


def taller_than_wide(ctx: Context, ring: Set[int], d: Vector) -> bool:
    """Whether walls are taller along d than they are wide across: no cutter should go round them so deep."""
    spans = {a: ctx.span(ring, a) for a in ctx.frame.axes}
    low, high = ctx.span(ring, d)
    return high - low > min(b - a for axis, (a, b) in spans.items() if abs(dot(axis, d)) < 0.5)


def askew_corner(ctx: Context, edge: int) -> bool:
    """Whether two planes that are both askew to the box meet at a blunt outer corner: both are sides of a polygon."""
    return ctx.snapshot.edges[edge].bend > CORNER_DEG and all(
        ctx.faces[f].kind == "plane" and is_askew(ctx, f) for f in ctx.snapshot.edges[edge].faces
    )


def is_askew(ctx: Context, face: int) -> bool:
    """Whether a plane is square to none of the box's sides."""
    return all(abs(dot(ctx.faces[face].surface.axis, a)) < 1 - 1e-6 for a in ctx.frame.axes)
