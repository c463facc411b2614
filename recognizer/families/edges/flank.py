"""What chamfers and edge rounds share: a strip along an edge, between two flanks, with its ends in the open or at a wall."""

from __future__ import annotations

import networkx as nx

from recognizer.rule import Claim, Context
from recognizer.vector import cross, dot, length

SAME_BEND_DEG = 2.0


def flank_pairs(ctx: Context, face: int, signs: tuple[str, ...]) -> list[tuple[int, int, int, int]]:
    """(edge, neighbour, edge, neighbour) of pairs of long edges that run side by side along a strip.

    Straight strips have parallel straight edges; round strips have circles of one axis.
    """
    snap = ctx.snapshot
    links = [(n, e) for n, e, sign in ctx.graph.links(face) if sign in signs]
    pairs = []
    for i, (na, a) in enumerate(links):
        for nb, b in links[i + 1 :]:
            if na != nb and _side_by_side(snap.edges[a], snap.edges[b]):
                pairs.append((a, na, b, nb))
    return pairs


def _side_by_side(a, b) -> bool:  # type: ignore[no-untyped-def]
    if a.curve == b.curve == "line":
        if length(cross(a.tangent, b.tangent)) > 2e-3:
            return False
        # Collinear pieces of one side are not two flanks.
        rel = (b.start[0] - a.start[0], b.start[1] - a.start[1], b.start[2] - a.start[2])
        return length(cross(rel, a.tangent)) > 1e-4
    if a.curve == b.curve == "circle" and a.axis and b.axis and a.centre and b.centre:
        rel = (b.centre[0] - a.centre[0], b.centre[1] - a.centre[1], b.centre[2] - a.centre[2])
        return length(cross(a.axis, b.axis)) < 2e-3 and length(cross(rel, a.axis)) < 1e-3
    return False


def ends_at_walls(ctx: Context, face: int, flanks: tuple[int, int]) -> bool:
    """Whether every concave edge of a strip is an end at a wall that was there before the strip, or at the next strip.

    A strip whose foot stands in an inner loop is an island's corner. At a true end a flank meets the wall in a concave edge too. Where it does not, the 'wall' is the strip's own
    floor, cut with it: a corner step.
    """
    for wall, edge, sign in ctx.graph.links(face):
        if sign != "concave":
            continue
        if wall in flanks or _in_inner_loop(ctx, wall, edge):
            return False
        if _mitred(ctx, face, wall, edge, flanks):
            continue
        ends = (ctx.snapshot.edges[edge].start, ctx.snapshot.edges[edge].end)
        if not any(_at_wall(ctx, wall, face, flank, ends) for flank in flanks):
            return False
    return True


def _mitred(ctx: Context, face: int, other: int, edge: int, flanks: tuple[int, int]) -> bool:
    """Whether two plane strips meet in an inner corner: both break edges of one flank, their other flanks meet there.

    True case: two chamfers round the mouth of a pocket with sharp corners.
    """
    if ctx.faces[face].kind != "plane" or ctx.faces[other].kind != "plane":
        return False
    for shared, own in (flanks, flanks[::-1]):
        bend = _convex_bend(ctx, face, shared)
        beside = _convex_bend(ctx, other, shared)
        if bend is None or beside is None or abs(bend - beside) > SAME_BEND_DEG:
            continue
        ends = (ctx.snapshot.edges[edge].start, ctx.snapshot.edges[edge].end)
        walls = [n for n, _, sign in ctx.graph.links(other) if sign == "convex" and n != shared]
        if any(_concave_near(ctx, n, own, ends) for n in walls):
            return True
    return False


def _convex_bend(ctx: Context, face: int, flank: int) -> float | None:
    bends = [ctx.snapshot.edges[e].bend for n, e, sign in ctx.graph.links(face) if n == flank and sign == "convex"]
    return min(bends, default=None)


def _at_wall(ctx: Context, wall: int, face: int, flank: int, ends) -> bool:  # type: ignore[no-untyped-def]
    if _is_round(ctx, face, flank):
        return _beyond_round(ctx, wall, face, flank)
    return _concave_near(ctx, wall, flank, ends)


def _is_round(ctx: Context, face: int, flank: int) -> bool:
    """A flank that rounds the edge which the strip left: it was cut after the strip, and what lies beyond it counts."""
    if ctx.faces[flank].kind != "cylinder" or ctx.graph.hollow(flank) or ctx.faces[face].kind not in ("plane", "cone"):
        return False
    return any(n == face and sign == "smooth" for n, _, sign in ctx.graph.links(flank))


def _beyond_round(ctx: Context, wall: int, face: int, flank: int) -> bool:
    """Whether the face beyond a flank's round meets the wall in a concave edge, where the round ends at the wall."""
    links = ctx.graph.links(flank)
    ends = [p for n, e, _ in links if n == wall for p in (ctx.snapshot.edges[e].start, ctx.snapshot.edges[e].end)]
    return any(_concave_near(ctx, wall, n, ends) for n, _, sign in links if sign == "smooth" and n != face)


def _in_inner_loop(ctx: Context, face: int, edge: int) -> bool:
    """The edge bounds an island on the face: the strip is the island's upright corner, not an edge that ends at a wall."""
    return any(e == edge for loop in ctx.faces[face].loops[1:] for e, _ in loop)


def _concave_near(ctx: Context, wall: int, flank: int, points) -> bool:  # type: ignore[no-untyped-def]
    for other, edge, sign in ctx.graph.links(wall):
        if other != flank or sign not in ("concave", "smooth"):
            continue
        e = ctx.snapshot.edges[edge]
        for p in points:
            for q in (e.start, e.end):
                gap = (p[0] - q[0], p[1] - q[1], p[2] - q[2])
                if dot(gap, gap) < (4 * ctx.tol.length_mm) ** 2:
                    return True
    return False


def chained(ctx: Context, claims: list[Claim]) -> list[Claim]:
    """Claims of strips that run smoothly into each other and have one size, made one: a chain round an outline."""
    graph = nx.Graph()
    graph.add_nodes_from(range(len(claims)))
    owner = {f: k for k, c in enumerate(claims) for f in c.faces}
    for f, k in owner.items():
        for n, _, sign in ctx.graph.links(f):
            other = owner.get(n)
            if other is not None and other != k and sign in ("smooth", "same") and _one_size(claims[k], claims[other]):
                graph.add_edge(k, other)
    out = []
    for group in sorted(sorted(c) for c in nx.connected_components(graph)):
        first = claims[group[0]]
        first.faces = frozenset(f for k in group for f in claims[k].faces)
        first.walls = first.faces
        out.append(first)
    return out


def _one_size(a: Claim, b: Claim) -> bool:
    return all(abs(v - b.dimensions.get(k, v)) < max(0.01, 0.01 * v) for k, v in a.dimensions.items())
