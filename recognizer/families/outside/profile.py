"""outside_profile: the ring of upright walls round a part whose outline is contoured.

True cases: a plate with all its upright corners rounded; a round flange; a lug with a half-round end.
Look-alikes: a block with one or three rounded upright edges (planar_faces and edge_rounds); a block with a step or a
slot through it (its ring turns inwards: those walls are the step's).
"""

from __future__ import annotations

import networkx as nx

from recognizer.rule import Claim, Context
from recognizer.tilts import FLAT, tilt
from recognizer.vector import dot
from shared.units import Vector

HALF_ROUND_DEG = 150.0


def outside_profiles(ctx: Context) -> list[Claim]:
    """At most one claim: the ring along the axis whose ring has the largest area."""
    if not any(f.kind == "cylinder" and not f.surface.hollow for f in ctx.faces):
        return []
    rings = [(d, ring) for d in ctx.frame.axes for ring in _rings(ctx, d)]
    if not rings:
        return []
    d, ring = max(rings, key=lambda r: round(sum(ctx.faces[f].area for f in r[1]), 3))
    return [
        Claim(
            "outside_profile",
            ring,
            d,
            [f"{len(ring)} wall(s) stand upright all round the part and make its outline; no plain block's four sides"],
            walls=ring,
            through=True,
            bottom_condition="through",
        )
    ]


def _rings(ctx: Context, d: Vector) -> list[frozenset[int]]:
    taken = ctx.claimed
    upright = {f.index for f in ctx.faces if f.index not in taken and _stands(ctx, f.index, d)}
    graph = nx.Graph()
    graph.add_nodes_from(upright)
    for f in upright:
        for n, e, _sign in ctx.graph.links(f):
            if n in upright and _along(ctx, e, d):
                graph.add_edge(f, n)
    return [frozenset(c) for c in nx.connected_components(graph) if _is_outline(ctx, c, graph, d)]


def _stands(ctx: Context, face: int, d: Vector) -> bool:
    """A wall along d that is no part of a notch and stands on no floor: nothing rises or lies before it."""
    if any(sign == "concave" and _along(ctx, e, d) for _, e, sign in ctx.graph.links(face)):
        return False
    if _on_a_floor(ctx, face, d):
        return False
    return _upright(ctx, face, d) and not (ctx.graph.hollow(face) and ctx.faces[face].span > HALF_ROUND_DEG)


def _on_a_floor(ctx: Context, face: int, d: Vector) -> bool:
    """Most of one end of the wall stands on faces that lie across d, sharply or by a hollow radius."""
    for level in ctx.extent(face, d):
        whole = held = 0.0
        for n, e, sign in ctx.graph.links(face):
            edge = ctx.snapshot.edges[e]
            if any(abs(dot(p, d) - level) > 2 * ctx.tol.length_mm for p in edge.points):
                continue
            whole += edge.length
            radius = sign == "smooth" and ctx.graph.hollow(n) and not _upright(ctx, n, d)
            held += edge.length if sign == "concave" or radius else 0.0
        if held > 0.5 * whole:
            return True
    return False


def _upright(ctx: Context, face: int, d: Vector) -> bool:
    low, high = tilt(ctx, face, d)
    return low > -10 * FLAT and high < 10 * FLAT


def _along(ctx: Context, edge: int, d: Vector) -> bool:
    e = ctx.snapshot.edges[edge]
    return e.curve == "line" and abs(dot(e.tangent, d)) > 1 - 1e-6


def _is_outline(ctx: Context, ring: set[int], graph: nx.Graph, d: Vector) -> bool:
    """A closed ring as wide as the part, without plain sharp corners or with a half-round end."""
    if not any(ctx.faces[f].kind == "cylinder" and not ctx.graph.hollow(f) for f in ring):
        return False
    round_ = any(ctx.faces[f].span > 355 for f in ring)
    if not round_ and any(graph.degree(f) < 2 for f in ring if ctx.faces[f].span < 179):
        return False
    if not _as_wide_as_the_part(ctx, ring, d):
        return False
    links = [sign for f in ring for n, e, sign in ctx.graph.links(f) if n in ring and n > f and _along(ctx, e, d)]
    half = any(_whole_span(ctx, ring, f) > HALF_ROUND_DEG and not ctx.graph.hollow(f) for f in ring)
    return "convex" not in links or half


def _whole_span(ctx: Context, ring: set[int], face: int) -> float:
    """Degrees that a round wall turns, with the pieces of its own surface in the ring."""
    group = ctx.graph.group[face]
    return sum(ctx.faces[f].span for f in ring if ctx.graph.group[f] == group)


def _as_wide_as_the_part(ctx: Context, ring: set[int], d: Vector) -> bool:
    for k, axis in enumerate(ctx.frame.axes):
        if abs(dot(axis, d)) > 0.5:
            continue
        low, high = ctx.span(ring, axis)
        slack = 0.02 * ctx.frame.size[k]
        if low > ctx.frame.low[k] + slack or high < ctx.frame.high[k] - slack:
            return False
    return True
