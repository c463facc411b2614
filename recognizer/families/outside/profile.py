"""outside_profile: the ring of upright walls round a part whose outline is contoured.

True cases: a plate with all its upright corners rounded; a round flange; a lug with a half-round end; a hub with arms.
Look-alikes: a block with one or three rounded upright edges (planar_faces and edge_rounds); a block with a step or a
slot through it (its ring turns inwards: those walls are the step's, see `contour.py` for round parts).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Set
from math import atan2, degrees

import networkx as nx
import numpy as np

from recognizer.families.outside.contour import contour
from recognizer.families.outside.polygon import many_sided
from recognizer.families.outside.walls import along, as_wide_as_the_part, taller_than_wide, upright
from recognizer.outline import Plane2
from recognizer.rule import Claim, Context
from recognizer.tilts import FLAT, tilts
from recognizer.vector import dot
from shared.units import Vector

HALF_ROUND_DEG = 150.0
TIPS, TIP_GAP_DEG = 5, 75.0
FREE_SHARE = 0.5
"""Of an outline's area is of free form in a cam; a block with one wavy side keeps its plain sides."""


def outside_profiles(ctx: Context) -> list[Claim]:
    """At most one claim: the ring along the axis whose ring has the largest area."""
    rules = (_rings, _contours) if any(_convex(ctx, f.index) for f in ctx.faces) else ()
    rings: list[tuple[Vector, frozenset[int]]] = []
    for rule in (*rules, many_sided, _free_forms):
        rings = rings or [(d, ring) for d in ctx.frame.axes for ring in rule(ctx, d)]
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


def _contours(ctx: Context, d: Vector) -> list[frozenset[int]]:
    """The outline of a part that is no taller than it is wide and has a round side, though it turns inwards too."""
    walls = _upright_walls(ctx, d)
    if not _half_round(ctx, walls):
        return []
    found = contour(ctx, d, walls)
    whole = found and _half_round(ctx, found) and as_wide_as_the_part(ctx, found, d)
    return [found] if found and whole and not taller_than_wide(ctx, found, d) else []


def _free_forms(ctx: Context, d: Vector) -> list[frozenset[int]]:
    """The outline of a cam: most of it upright walls of free form."""
    walls = _upright_walls(ctx, d)
    if all(ctx.faces[f].kind in ("plane", "cylinder") for f in walls):
        return []
    found = contour(ctx, d, walls)
    if not found or not as_wide_as_the_part(ctx, found, d) or taller_than_wide(ctx, found, d):
        return []
    free = sum(ctx.faces[f].area for f in found if ctx.faces[f].kind not in ("plane", "cylinder"))
    return [found] if free > FREE_SHARE * sum(ctx.faces[f].area for f in found) else []


def _upright_walls(ctx: Context, d: Vector) -> set[int]:
    low, high = tilts(ctx, d)
    return set(np.flatnonzero((low > -10 * FLAT) & (high < 10 * FLAT)).tolist()) - ctx.claimed


def _half_round(ctx: Context, walls: Set[int]) -> bool:
    return any(_convex(ctx, f) and _whole_span(ctx, walls, f) > HALF_ROUND_DEG for f in walls) or _tips(ctx, walls)


def _tips(ctx: Context, walls: Set[int]) -> bool:
    """Whether pieces of one round stand all round the part: the tips of a sprocket's or a cutter's teeth."""
    of_round: dict[int, list[int]] = defaultdict(list)
    for f in sorted(walls):
        if _convex(ctx, f):
            of_round[ctx.graph.group[f]].append(f)
    return any(len(pieces) >= TIPS and _widest_gap(ctx, pieces) < TIP_GAP_DEG for pieces in of_round.values())


def _widest_gap(ctx: Context, pieces: list[int]) -> float:
    """Degrees between the middles of neighbouring pieces of one cylinder, the most of them."""
    s = ctx.faces[pieces[0]].surface
    plane = Plane2(s.axis)
    x, y = plane.at(s.origin)
    angles = []
    for f in pieces:
        at = [plane.at(p) for e in ctx.snapshot.face_edges[f] for p in ctx.snapshot.edges[e].points]
        angles.append(degrees(atan2(sum(q[1] - y for q in at), sum(q[0] - x for q in at))) % 360)
    angles.sort()
    return max(b - a for a, b in zip(angles, [*angles[1:], angles[0] + 360], strict=True))


def _convex(ctx: Context, face: int) -> bool:
    return ctx.faces[face].kind == "cylinder" and not ctx.graph.hollow(face)


def _rings(ctx: Context, d: Vector) -> list[frozenset[int]]:
    taken = ctx.claimed
    walls = {f.index for f in ctx.faces if f.index not in taken and _stands(ctx, f.index, d)}
    graph = nx.MultiGraph()  # an arc and its one flat meet at both ends
    graph.add_nodes_from(walls)
    for f in walls:
        graph.add_edges_from((f, n) for n, e, _ in ctx.graph.links(f) if n > f and n in walls and along(ctx, e, d))
    whole = (frozenset(c) for c in nx.connected_components(graph) if _is_outline(ctx, c, graph, d))
    rings = [_outer(ctx, c, graph, d) for c in whole]
    surfaces = [{ctx.graph.group[f] for f in ring} for ring in rings]  # a groove round the part parts one outline
    return [frozenset().union(*(b for b, s in zip(rings, surfaces, strict=True) if s & own)) for own in surfaces]


def _outer(ctx: Context, ring: frozenset[int], graph: nx.MultiGraph, d: Vector) -> frozenset[int]:
    """A ring without the walls inside the outline that branch off it: a tee slot's neck across a disc, a keyway's sides.

    What other cuts have left of one round wall is taken whole.
    """
    if all(graph.degree(f) == 2 for f in ring) or (len(ring) == 1 and ctx.faces[min(ring)].span > 355):
        return ring
    found = contour(ctx, d, set(ring)) or contour(ctx, d, _upright_walls(ctx, d)) or ring
    own = {ctx.graph.group[f] for f in ring}  # what else lies near the outline is another cut's
    return frozenset(f for f in found if ctx.graph.group[f] in own)


def _stands(ctx: Context, face: int, d: Vector) -> bool:
    """A wall along d that is no part of a notch and stands on no floor: nothing rises or lies before it."""
    if any(sign == "concave" and along(ctx, e, d) for _, e, sign in ctx.graph.links(face)):
        return False
    if _on_a_floor(ctx, face, d):
        return False
    return upright(ctx, face, d) and not (ctx.graph.hollow(face) and ctx.faces[face].span > HALF_ROUND_DEG)


def _on_a_floor(ctx: Context, face: int, d: Vector) -> bool:
    """Most of one end of the wall stands on faces that lie across d, sharply or by a hollow radius."""
    for level in ctx.extent(face, d):
        whole = held = 0.0
        for n, e, sign in ctx.graph.links(face):
            edge = ctx.snapshot.edges[e]
            if any(abs(dot(p, d) - level) > 2 * ctx.tol.length_mm for p in edge.points):
                continue
            whole += edge.length
            radius = sign == "smooth" and ctx.graph.hollow(n) and not upright(ctx, n, d)
            held += edge.length if sign == "concave" or radius else 0.0
        if held > 0.5 * whole:
            return True
    return False


def _is_outline(ctx: Context, ring: Set[int], graph: nx.MultiGraph, d: Vector) -> bool:
    """A closed ring as wide as the part, without plain sharp corners or with a half-round end."""
    if not any(ctx.faces[f].kind == "cylinder" and not ctx.graph.hollow(f) for f in ring):
        return False
    round_ = any(ctx.faces[f].span > 355 for f in ring)
    if not round_ and any(graph.degree(f) < 2 for f in ring if ctx.faces[f].span < 179):
        return False
    if not as_wide_as_the_part(ctx, ring, d):
        return False
    links = [sign for f in ring for n, e, sign in ctx.graph.links(f) if n in ring and n > f and along(ctx, e, d)]
    return "convex" not in links or _half_round(ctx, ring)


def _whole_span(ctx: Context, ring: Set[int], face: int) -> float:
    """Degrees that a round wall turns, with the pieces of its own surface in the ring."""
    group = ctx.graph.group[face]
    return sum(ctx.faces[f].span for f in ring if ctx.graph.group[f] == group)
