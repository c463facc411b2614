"""Bodies that no direction reads: passages and pockets that cross at one level, so that their faces have run together.

Along each passage its walls still meet in concave edges parallel to its way: those edges alone tie its walls together.
True case: two square passages of one height that cross, their ceilings one face. Look-alike: one passage with a bend
(its ring changes direction, but each arm is cut from its own side: two features all the same).
"""

from __future__ import annotations

import networkx as nx

from recognizer.bodies import joined
from recognizer.rule import Context
from recognizer.vector import canonical, dot
from shared.units import Vector


def split(ctx: Context, body: frozenset[int]) -> list[tuple[frozenset[int], frozenset[int]]]:
    """(own faces, shared faces) of each ring of walls, one a passage: a face that bounds several is owned by the first."""
    rings = [ring for e in _ways(ctx, body) for ring in _rings(ctx, body, e)]
    if not rings:
        return []
    whole = joined(ctx, [sorted(r) for r in rings])
    taken: set[int] = set()
    out = []
    for ring in whole:
        groups = {ctx.graph.group[f] for f in ring}
        full = ring | {f for f in body if ctx.graph.group[f] in groups and not _in_other(f, whole, ring)}
        if full - taken:
            out.append((frozenset(full - taken), frozenset(full & taken)))
        taken |= full
    return out


def _in_other(face: int, whole: list[frozenset[int]], ring: frozenset[int]) -> bool:
    return any(face in other for other in whole if other is not ring)


def _ways(ctx: Context, body: frozenset[int]) -> list[Vector]:
    """Directions of the body's straight concave edges."""
    found: list[Vector] = []
    for f in sorted(body):
        for n, e, sign in ctx.graph.links(f):
            edge = ctx.snapshot.edges[e]
            if n in body and sign == "concave" and edge.curve == "line":
                d = canonical(edge.tangent)
                if all(abs(dot(d, w)) < 1 - 1e-6 for w in found):
                    found.append(d)
    return found


def _rings(ctx: Context, body: frozenset[int], e: Vector) -> list[set[int]]:
    """Groups of walls tied by concave edges along e into a closed ring: every wall has two such neighbours."""
    graph = nx.Graph()
    for f in sorted(body):
        for n, k, sign in ctx.graph.links(f):
            if n in body and n > f and sign == "concave" and abs(dot(ctx.snapshot.edges[k].tangent, e)) > 1 - 1e-6:
                graph.add_edge(f, n)
    beside = {f: {ctx.graph.group[n] for n in graph[f]} for f in graph}  # pieces of one surface count once
    return [set(c) for c in nx.connected_components(graph) if len(c) > 2 and all(len(beside[f]) == 2 for f in c)]
