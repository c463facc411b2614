"""A many-sided outline: planes all round, of which two that meet are askew to the part's box.

True case: a hexagonal plate or head. Look-alike: a block with chamfered upright edges (between two chamfers lies a side
of the block).
"""

from __future__ import annotations

import networkx as nx

from recognizer.families.outside.walls import along, as_wide_as_the_part, askew_corner, taller_than_wide
from recognizer.rule import Context
from recognizer.vector import dot
from shared.units import Vector


def many_sided(ctx: Context, d: Vector) -> list[frozenset[int]]:
    """Closed rings of planes along d that only turn outwards, as wide as the part and no taller than it is wide."""
    planes = {f.index for f in ctx.faces if f.kind == "plane" and abs(dot(f.surface.axis, d)) < 1e-6} - ctx.claimed
    graph = nx.MultiGraph()
    for f in planes:
        links = ((n, e, sign) for n, e, sign in ctx.graph.links(f) if n in planes and n > f and along(ctx, e, d))
        graph.add_edges_from((f, n, {"sign": sign, "polygon": askew_corner(ctx, e)}) for n, e, sign in links)
    return [frozenset(c) for c in nx.connected_components(graph) if _is_polygon(ctx, graph.subgraph(c), d)]


def _is_polygon(ctx: Context, ring: nx.MultiGraph, d: Vector) -> bool:
    if any(sign != "convex" for _, _, sign in ring.edges(data="sign")) or any(n != 2 for _, n in ring.degree):
        return False
    if not any(polygon for _, _, polygon in ring.edges(data="polygon")):
        return False
    return as_wide_as_the_part(ctx, set(ring), d) and not taller_than_wide(ctx, set(ring), d)
