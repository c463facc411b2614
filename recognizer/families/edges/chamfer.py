"""Chamfer: a plane or cone that breaks an edge between two flanks.

True case: a 45 degree plane, convex to both flanks, its ends in the open or at walls that were there before.
Look-alike: the slanted wall of a corner step, which ends at its own floor; a slanted step's wall, whose end faces are
parallel; the cone of a countersink, which widens its hole by more than a quarter.
"""

from __future__ import annotations

from math import radians, sin

from recognizer.families.edges.flank import chained, ends_at_walls, flank_pairs
from recognizer.rule import Claim, Context
from recognizer.vector import cross, distance, dot, unit
from shared.units import Vector

MAX_BEND_DEG = 75.0
"""A flank that bends away by more than this is an end of a wall, not the side of a broken edge."""
MIN_BEND_DEG = 8.0
"""A strip that bends away by less than this breaks no edge: a facet of a contour or of a letter."""
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
        if not MIN_BEND_DEG < max(bends) <= MAX_BEND_DEG or not ends_at_walls(ctx, face, (na, nb)):
            continue
        if any(snap.edges[e].bend == 0 and ctx.graph.hollow(n) for e, n in ((a, na), (b, nb))):
            continue  # it runs into an inner radius along its side: a wall of that cut
        if _many_sided(ctx, face, a, (na, nb)):
            continue
        return _claim(ctx, face, a, b)
    return None


def _many_sided(ctx: Context, face: int, edge: int, flanks: tuple[int, int]) -> bool:
    """A strip that stands on a floor, beside a flank that is itself askew and no wider: one wall of a many-sided boss."""
    if not any(sign == "concave" or (sign == "smooth" and ctx.graph.hollow(n)) for n, _, sign in ctx.graph.links(face)):
        return False
    t = ctx.snapshot.edges[edge].tangent
    askew = [f for f in flanks if ctx.faces[f].kind == "plane" and _askew(ctx, f)]
    return any(_width(ctx, f, t) < 1.05 * _width(ctx, face, t) for f in askew)


def _askew(ctx: Context, face: int) -> bool:
    return all(abs(dot(ctx.faces[face].surface.axis, a)) < 1 - 1e-6 for a in ctx.frame.axes)


def _width(ctx: Context, face: int, t: Vector) -> float:
    """Extent of a plane face square to a direction in it."""
    low, high = ctx.extent(face, unit(cross(ctx.faces[face].surface.axis, t)))
    return high - low


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
