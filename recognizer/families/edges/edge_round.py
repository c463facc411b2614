"""Edge round: a convex cylinder, torus or sphere that runs smoothly into its flanks.

True case: a quarter cylinder along a box's edge, tangent to both faces.
Look-alike: the hollow quarter cylinder in a pocket's corner; the half cylinder round the end of a plate (its span is
180 degrees: an outline, not a broken edge); the inner wall of an arc-shaped slot, whose long edge stands on the floor.
"""

from __future__ import annotations

from recognizer.bulges import bulge
from recognizer.families.edges.flank import chained, ends_at_walls, flank_pairs
from recognizer.rule import Claim, Context
from recognizer.vector import cross, dot, length

MAX_SPAN_DEG = 150.0


def edge_rounds(ctx: Context) -> list[Claim]:
    """One claim a round: a face, or a chain of faces that run smoothly into each other."""
    found, taken = [], ctx.claimed
    for f in ctx.faces:
        s = f.surface
        if f.index in taken:
            continue  # an arc of the part's outline
        if s.kind not in ("cylinder", "torus", "sphere", "bspline", "revolution") or s.hollow:
            continue
        if s.kind == "cylinder" and f.span > MAX_SPAN_DEG:
            continue
        if _rounds(ctx, f.index):
            radius = s.radius
            found.append(
                Claim(
                    "edge_round",
                    frozenset([f.index]),
                    s.axis,
                    [f"convex {s.kind} of radius {radius:.4g} mm, tangent to the faces beside it"],
                    walls=frozenset([f.index]),
                    dimensions={"radius": radius} if radius else {},
                )
            )
    return chained(ctx, found)


def _rounds(ctx: Context, face: int) -> bool:
    links = ctx.graph.links(face)
    smooth = [n for n, _, sign in links if sign == "smooth"]
    if len(set(smooth)) < 2:
        return False
    if ctx.faces[face].kind in ("bspline", "revolution"):
        return bulge(ctx, face) >= 0 and all(sign in ("smooth", "convex") for _, _, sign in links)
    if ctx.faces[face].kind == "sphere":
        return all(sign in ("smooth", "convex") for _, _, sign in links)
    if ctx.faces[face].kind == "cylinder" and _is_wall(ctx, face):
        return False
    return any(ends_at_walls(ctx, face, (na, nb)) for _, na, _, nb in flank_pairs(ctx, face, ("smooth",)))


def _is_wall(ctx: Context, face: int) -> bool:
    """A cylinder that stands upright on a floor by its long edge, or between two hollow arcs: a wall of that cut, blind or through.

    A broken edge is a strip: it ends at a floor by a short arc, between flanks that were there before.
    """
    links, edges, axis = ctx.graph.links(face), ctx.snapshot.edges, ctx.faces[face].surface.axis
    feet = [
        edges[e].length
        for n, e, sign in links
        if sign == "concave" and ctx.faces[n].kind == "plane" and length(cross(ctx.faces[n].surface.axis, axis)) < 1e-4
    ]
    sides = [
        (edges[e].length, ctx.graph.hollow(n), ctx.faces[n].surface.radius)
        for n, e, sign in links
        if sign == "smooth" and edges[e].curve == "line" and abs(dot(edges[e].tangent, axis)) > 1 - 1e-6
    ]
    if not sides:
        return False
    if not feet:  # a slot right through, whose round ends are smaller
        return all(hollow and radius < ctx.faces[face].surface.radius for _, hollow, radius in sides)
    return max(feet) > max(size for size, _, _ in sides) or all(hollow for _, hollow, _ in sides)
