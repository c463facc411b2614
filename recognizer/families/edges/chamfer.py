"""Chamfer: a plane or cone that breaks an edge between two flanks.

True case: a 45 degree plane, convex to both flanks, its ends in the open or at walls that were there before.
Look-alike: the slanted wall of a corner step, which ends at its own floor; a slanted step's wall, whose end faces are
parallel; the cone of a countersink, which widens its hole by more than a quarter.
"""

from __future__ import annotations

from math import radians, sin

from recognizer.families.edges.flank import chained, ends_at_walls, flank_pairs
from recognizer.rule import Claim, Context
from recognizer.vector import distance, dot

MAX_BEND_DEG = 75.0
"""A flank that bends away by more than this is an end of a wall, not the side of a broken edge."""
MOUTH_SHARE = 1.25
"""A cone that widens a hole's mouth by up to about a quarter is its mouth chamfer, a wider one a countersink."""


def chamfers(ctx: Context) -> list[Claim]:
    """One claim a chamfer: a face, or a chain of faces that run smoothly into each other."""
    found = []
    for f in ctx.faces:
        if f.index in ctx.box_faces or f.kind not in ("plane", "cone", "bspline"):
            continue
        claim = _plane_chamfer(ctx, f.index) if f.kind == "plane" else _cone_chamfer(ctx, f.index)
        if claim:
            found.append(claim)
    return chained(ctx, found)


def _plane_chamfer(ctx: Context, face: int) -> Claim | None:
    snap = ctx.snapshot
    if any(abs(dot(ctx.faces[face].surface.axis, d)) > 1 - 1e-6 for d in ctx.frame.axes):
        return None
    for a, na, b, nb in flank_pairs(ctx, face, ("convex", "smooth")):
        bends = snap.edges[a].bend, snap.edges[b].bend
        if max(bends) > MAX_BEND_DEG or max(bends) <= 0 or not ends_at_walls(ctx, face, (na, nb)):
            continue
        return _claim(ctx, face, a, b)
    return None


def _cone_chamfer(ctx: Context, face: int) -> Claim | None:
    snap = ctx.snapshot
    for a, na, b, nb in flank_pairs(ctx, face, ("convex",)):
        ea, eb = snap.edges[a], snap.edges[b]
        if max(ea.bend, eb.bend) > MAX_BEND_DEG or ctx.faces[face].kind != "cone":
            continue
        small, large = sorted((ea.radius, eb.radius))
        if ctx.faces[face].surface.hollow and ctx.faces[face].span > 350 and large > MOUTH_SHARE * small:
            continue
        if not ends_at_walls(ctx, face, (na, nb)):
            continue
        return _claim(ctx, face, a, b)
    return None


def _claim(ctx: Context, face: int, a: int, b: int) -> Claim:
    ea, eb = ctx.snapshot.edges[a], ctx.snapshot.edges[b]
    if ea.bend <= 0 or 0 < eb.bend < ea.bend - 1e-6:
        ea, eb = eb, ea  # the angle is named from the flank that it leaves least
    surface = ctx.faces[face].surface
    if ea.curve == "line":
        rel = (eb.start[0] - ea.start[0], eb.start[1] - ea.start[1], eb.start[2] - ea.start[2])
        along = dot(rel, ea.tangent)
        slant = max(0.0, dot(rel, rel) - along * along) ** 0.5
    else:
        rise = distance(ea.centre, eb.centre) if ea.centre and eb.centre else 0.0
        slant = (rise**2 + (ea.radius - eb.radius) ** 2) ** 0.5
    width, angle = _leg(slant, ea.bend, eb.bend), round(ea.bend, 3)
    return Claim(
        "chamfer",
        frozenset([face]),
        surface.axis,
        [f"breaks the edge between two faces at {angle:g} degrees, convex to both; {width:.3g} mm off the first face"],
        walls=frozenset([face]),
        dimensions={"width": width, "angle": angle},
    )


def _leg(slant: float, first: float, second: float) -> float:
    """Length that a chamfer takes off the flank which it leaves at `first` degrees (ISO 14649-10 first_offset_amount).

    Law of sines in the triangle of chamfer and flanks; a flank that the chamfer runs smoothly into has no leg.
    """
    if second <= 0 or first + second >= 179:
        return slant
    return slant * sin(radians(second)) / sin(radians(first + second))
