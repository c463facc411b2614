"""Chamfer: a plane or cone that breaks an edge between two flanks.

True case: a 45 degree plane, convex to both flanks, its ends in the open or at walls that were there before.
Look-alike: the slanted wall of a corner step, which ends at its own floor; a slanted step's wall, whose end faces are
parallel; the cone of a countersink, which widens its hole by more than a quarter.
"""

from __future__ import annotations

from math import radians, sin

from recognizer.families.edges.flank import chained, ends_at_walls, flank_pairs
from recognizer.families.outside.walls import askew_corner
from recognizer.rule import Claim, Context
from recognizer.vector import cross, distance, dot, unit
from recognizer.vees import relieved_vees
from shared.units import Vector

MAX_BEND_DEG = 75.0
"""A flank that bends away by more than this is an end of a wall, not the side of a broken edge."""
MIN_BEND_DEG = 8.0
"""A strip that bends away by less than this breaks no edge: a facet of a contour or of a letter."""
LEAST_BEND_DEG = 3.0
"""Below this not even a strip between two wide planes breaks an edge."""
MOUTH_SHARE = 1.25
"""A cone that widens a hole's mouth by up to about a quarter is its mouth chamfer, a wider one a countersink."""
MIN_HALF_ANGLE_DEG = 29.5
"""Chamfer cutters are made with 60, 90 and 120 degrees (common practice, no source): a steeper cone is a tapered mouth."""
BORE_SPAN_DEG = 200.0
"""A cylinder of which this much is left was a bore; an obround's end is 180 degrees."""
WIDE_MM, WIDEST_MM = 12.0, 25.0
"""Along their slope chamfers of more are rarely, or never, cut with a chamfer cutter: common practice, no source."""
STRIP_SHARE = 0.25
SAME_BEND_DEG = 2.0


def chamfers(ctx: Context) -> list[Claim]:
    """One claim a chamfer: a face, or a chain of faces that run smoothly into each other."""
    found = []
    flanks = {f for pair in relieved_vees(ctx) for f in pair} | ctx.claimed
    for f in ctx.faces:
        if f.index in ctx.box_faces or f.kind not in BY_SURFACE or f.index in flanks:
            continue
        claim = BY_SURFACE[f.kind](ctx, f.index)
        if claim:
            found.append(claim)
    return chained(ctx, found)


def _plane_chamfer(ctx: Context, face: int) -> Claim | None:
    snap = ctx.snapshot
    if any(abs(dot(ctx.faces[face].surface.axis, d)) > 1 - 1e-6 for d in ctx.frame.axes):
        return None
    for a, na, b, nb in flank_pairs(ctx, face, ("convex", "smooth")):
        bends = snap.edges[a].bend, snap.edges[b].bend
        if max(bends) <= MIN_BEND_DEG and not _slight(ctx, face, a, (na, nb), bends):
            continue
        if max(bends) > MAX_BEND_DEG or not ends_at_walls(ctx, face, (na, nb)):
            continue
        if any(snap.edges[e].bend == 0 and ctx.graph.hollow(n) for e, n in ((a, na), (b, nb))):
            continue  # it runs into an inner radius along its side: a wall of that cut
        if (
            _a_face(ctx, face, a, (na, nb))
            or _many_sided(ctx, face, a, (na, nb))
            or any(_polygon(ctx, face, e, n) for e, n in ((a, na), (b, nb)))
        ):
            continue
        return _claim(ctx, face, a, b)
    return None


def _a_face(ctx: Context, face: int, edge: int, flanks: tuple[int, int]) -> bool:
    """A slope in its own right: wide, with a cut that opens in its midst, or wider yet and more than its flanks have left."""
    t = ctx.snapshot.edges[edge].tangent
    own = _width(ctx, face, t)
    if own > WIDE_MM and len(ctx.faces[face].loops) > 1:
        return True
    return own > WIDEST_MM and all(ctx.faces[f].kind == "plane" and _width(ctx, f, t) < own for f in flanks)


def _slight(ctx: Context, face: int, edge: int, flanks: tuple[int, int], bends: tuple[float, float]) -> bool:
    """A slight edge that was broken all the same: equal bends, between two planes each far wider than the strip."""
    t = ctx.snapshot.edges[edge].tangent
    wide = [ctx.faces[f].kind == "plane" and _width(ctx, face, t) < STRIP_SHARE * _width(ctx, f, t) for f in flanks]
    return min(bends) > LEAST_BEND_DEG and abs(bends[0] - bends[1]) < SAME_BEND_DEG / 4 and all(wide)


def _many_sided(ctx: Context, face: int, edge: int, flanks: tuple[int, int]) -> bool:
    """A strip that stands on a floor, beside a flank that is itself askew and no wider: one wall of a many-sided boss.

    A strip between two walls, one at each end, stands on neither.
    """
    feet = {
        n for n, _, sign in ctx.graph.links(face) if sign == "concave" or (sign == "smooth" and ctx.graph.hollow(n))
    }
    if len({ctx.graph.group[n] for n in feet}) != 1:
        return False
    t = ctx.snapshot.edges[edge].tangent
    askew = [f for f in flanks if ctx.faces[f].kind == "plane" and _askew(ctx, f)]
    return any(_width(ctx, f, t) < 1.05 * _width(ctx, face, t) for f in askew)


def _polygon(ctx: Context, face: int, edge: int, flank: int) -> bool:
    """A side of a polygon beside another, both outside: no wall or floor of a cut meets them."""
    return askew_corner(ctx, edge) and not any(
        sign == "concave" for f in (face, flank) for _, _, sign in ctx.graph.links(f)
    )


def _askew(ctx: Context, face: int) -> bool:
    return all(abs(dot(ctx.faces[face].surface.axis, a)) < 1 - 1e-6 for a in ctx.frame.axes)


def _width(ctx: Context, face: int, t: Vector) -> float:
    """Extent of a plane face square to a direction in it."""
    low, high = ctx.extent(face, unit(cross(ctx.faces[face].surface.axis, t)))
    return high - low


def late_chamfers(ctx: Context) -> list[Claim]:
    """Cones that no hole took for its countersink: they break the mouth of a ring groove or of a pocket's round end."""
    found = []
    for f in ctx.free():
        if ctx.faces[f].kind == "cone":
            claim = _cone_chamfer(ctx, f, late=True)
            if claim:
                found.append(claim)
    return chained(ctx, found)


def _cone_chamfer(ctx: Context, face: int, late: bool = False) -> Claim | None:
    snap, surface = ctx.snapshot, ctx.faces[face].surface
    for a, na, b, nb in flank_pairs(ctx, face, ("convex",)):
        ea, eb = snap.edges[a], snap.edges[b]
        if max(ea.bend, eb.bend) > MAX_BEND_DEG or ctx.faces[face].kind != "cone":
            continue
        small, large = sorted((ea.radius, eb.radius))
        steep = not MIN_HALF_ANGLE_DEG < abs(surface.half_angle) < 90 - MIN_HALF_ANGLE_DEG
        if surface.hollow and not late and (large > MOUTH_SHARE * small or steep) and _on_bore(ctx, face, (na, nb)):
            continue
        if not ends_at_walls(ctx, face, (na, nb)):
            continue
        return _claim(ctx, face, a, b)
    return None


def _on_bore(ctx: Context, face: int, flanks: tuple[int, int]) -> bool:
    """Whether a cone, or a cylinder beside it, is most of a full turn: pieces that another cut left count together."""

    def turn(f: int) -> float:
        return sum(ctx.faces[g].span for g in ctx.graph.members[ctx.graph.group[f]])

    return turn(face) > 350 or any(turn(f) > BORE_SPAN_DEG for f in flanks if ctx.faces[f].kind == "cylinder")


def _free_chamfer(ctx: Context, face: int) -> Claim | None:
    """A narrow free-form strip, convex at one angle to a flank on either side: an edge between curved faces, broken."""
    links, edges = ctx.graph.links(face), ctx.snapshot.edges
    sides = [(n, e) for n, e, sign in links if sign == "convex"]
    if len(sides) != 2 or sides[0][0] == sides[1][0] or any(n in ctx.box_faces for n, _, s in links if s == "concave"):
        return None
    (na, a), (nb, b) = sides
    first, second = edges[a].bend, edges[b].bend
    narrow = ctx.faces[face].area < STRIP_SHARE * min(edges[a].length, edges[b].length) ** 2
    if abs(first - second) > SAME_BEND_DEG or not MIN_BEND_DEG < first <= MAX_BEND_DEG or not narrow:
        return None
    if not ends_at_walls(ctx, face, (na, nb)):
        return None
    width = ctx.faces[face].area / max(edges[a].length, edges[b].length)
    return Claim(
        "chamfer",
        frozenset([face]),
        ctx.faces[face].surface.axis,
        [f"free-form strip about {width:.3g} mm wide, convex at one angle to the faces on both sides"],
        walls=frozenset([face]),
    )


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


BY_SURFACE = {"plane": _plane_chamfer, "cone": _cone_chamfer, "bspline": _free_chamfer}
