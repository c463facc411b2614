"""Ball and bull cutters on standing, leaning and curved faces: closed forms for the contact, exact sections for the rest.

A cutter of radius R and edge radius E that touches a face whose outward normal leans by angle a from the direction stands
with its axis R - E + E sin a beside the point, its tip E (1 - cos a) below it (tangent torus and plane; a ball has E = R).
h above its tip its radius is R - E + sqrt(E^2 - (E - h)^2); nothing of the part may stand inside that at any level.
"""

from __future__ import annotations

import numpy as np

from recognizer.access.cutters import Stack
from recognizer.access.holders import Overhang, to_arcs, to_segments
from recognizer.access.material import Material
from recognizer.access.near import Near, counting
from recognizer.access.obstacles import Nodes, Segments
from shared.plan import Tool

Array = np.ndarray
SAMPLES = 8
"""Points along an edge, beside its ends, that are looked at."""
TOUCH_MM = 0.02
"""What may stand inside the cutter and still counts as its own contact."""


def stands(nodes: Nodes, cosine: Array, tool: Tool) -> tuple[Array, Array]:
    """(axis (n, 2), tip level (n,)) of a cutter that touches nodes; cosine: of the normal with the direction, 0 to 1."""
    sine = np.sqrt(np.maximum(1 - cosine**2, 0.0))
    offset = tool.DC / 2 - tool.RE + tool.RE * sine
    return nodes.p + offset[:, None] * nodes.n, nodes.level - tool.RE * (1 - cosine)


def touches(
    nodes: Nodes, cosine: Array, tool: Tool, stack: Stack, overhang: Overhang, material: Material
) -> tuple[Array, Array]:
    """(n,) whether the cutter touches each node, and whether its round edge is what keeps it off."""
    axis, tip = stands(nodes, cosine, tool)
    slack = nodes.slack + TOUCH_MM
    low = material.height(axis) > tip + slack
    free = ~low
    k = np.flatnonzero(free)
    free[k] = _clear(axis[k], tip[k], slack[k], tool, overhang)
    k = np.flatnonzero(free)
    free[k] = overhang.free(axis[k], tip[k], stack)
    return free, low


def _clear(axis: Array, tip: Array, slack: Array, tool: Tool, overhang: Overhang) -> Array:
    """(n,) whether no edge and no cut of a leaning face stands inside the cutter."""
    hit = np.zeros(len(tip), bool)
    segments, arcs, scene = overhang.segments, overhang.arcs, overhang.scene
    nodes = Nodes(axis, np.zeros_like(axis), tip, slack)
    segments = (
        segments.within(axis.min(axis=0) - tool.DC / 2, axis.max(axis=0) + tool.DC / 2) if len(axis) else segments
    )
    edges = segments.some(np.flatnonzero(segments.row < 0))
    arcs = arcs.some(np.flatnonzero(arcs.row < 0))  # those of one row lie in cuts
    near = Near(nodes, edges, arcs, scene.cut_tops, tool.DC / 2)
    for i, j in near.segments():
        hit[i[_edge_inside(axis[i], tip[i], edges, j, slack[i] + edges.slack[j], tool)]] = True
    for i, j in near.arcs():
        hit[i[_inside(to_arcs(axis[i], arcs, j), arcs.top[j] - tip[i], slack[i], tool)]] = True
    return ~hit & _clear_of_cuts(axis, tip, slack, tool, overhang, ~hit)


def _edge_inside(axis: Array, tip: Array, edges: Segments, j: Array, slack: Array, tool: Tool) -> Array:
    """Whether any of some points along edges, and the nearest one to the axis, stand inside the cutter."""
    a, way, rise = edges.a[j], edges.b[j] - edges.a[j], edges.rise[j]
    start = edges.top[j] - np.maximum(rise, 0.0)
    nearest = ((axis - a) * way).sum(axis=1) / np.maximum((way * way).sum(axis=1), 1e-18)
    hit = np.zeros(len(j), bool)
    for share in (np.clip(nearest, 0.0, 1.0), *(np.full(len(j), k / SAMPLES) for k in range(SAMPLES + 1))):
        far = np.linalg.norm(a + share[:, None] * way - axis, axis=1)
        hit |= _inside(far, start + share * rise - tip, slack, tool)
    return hit


def _clear_of_cuts(axis: Array, tip: Array, slack: Array, tool: Tool, overhang: Overhang, wanted: Array) -> Array:
    """The same for cuts, row by row from the tip up to a little above the round edge."""
    tops = overhang.scene.cut_tops
    ok = wanted.copy()
    if not ok.any():
        return ok
    row = np.searchsorted(tops, tip + 1e-6, side="right")
    last = np.searchsorted(tops, tip + tool.RE, side="right")
    low, high = axis[ok].min(axis=0) - tool.DC / 2, axis[ok].max(axis=0) + tool.DC / 2
    cuts, rounds = overhang.segments.within(low, high), overhang.arcs
    cuts = cuts.some(np.flatnonzero((cuts.row >= row[ok].min()) & (cuts.row <= last[ok].max())))
    rounds = rounds.some(np.flatnonzero((rounds.row >= row[ok].min()) & (rounds.row <= last[ok].max())))
    if not len(cuts) + len(rounds):
        return ok
    near = Near(Nodes(axis, np.zeros_like(axis), tip, slack), cuts, rounds, tops, tool.DC / 2)
    last = np.minimum(last, len(tops) - 1)
    many = 1
    while (k := np.flatnonzero(ok & (row <= last))).size:
        # First the rows next to the tip, where most are stopped; then more and more at a time.
        count = np.minimum(many, last[k] - row[k] + 1)
        node, at = np.repeat(k, count), np.repeat(row[k], count) + counting(count)
        level = tops[at] - 1e-5
        # Edges between faces that look up belong to a row too, but lie at their own level.
        for i, j in near.cuts_of_rows(node, at):
            n = node[i]
            far, height = to_segments(axis[n], level[i], cuts, j), np.minimum(level[i], cuts.top[j]) - tip[n]
            ok[n[_inside(far, height, slack[n] + cuts.slack[j], tool)]] = False
        for i, j in near.arcs_of_rows(node, at):
            n = node[i]
            height = np.minimum(level[i], rounds.top[j]) - tip[n]
            ok[n[_inside(to_arcs(axis[n], rounds, j), height, slack[n], tool)]] = False
        row, many = row + many, 2 * many
    return ok


def _inside(far: Array, height: Array, slack: Array, tool: Tool) -> Array:
    """Whether points so far from the axis and so high above the tip are inside the cutter, by more than the slack."""
    up = np.clip(height, 0.0, tool.RE)
    radius = tool.DC / 2 - tool.RE + np.sqrt(np.maximum(tool.RE**2 - (tool.RE - up) ** 2, 0.0))
    # Near the tip the surface is flat: there the slack counts upwards, further up sideways.
    drop = tool.RE - np.sqrt(np.maximum(tool.RE**2 - np.maximum(far - tool.DC / 2 + tool.RE, 0.0) ** 2, 0.0))
    return (far < radius - slack) & (height > drop + slack) & (height > 0)
