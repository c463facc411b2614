"""Cuts of one level with material between them: a round wall that is open at both ends tells no other which side is free.

True cases: two scallops, or two corners taken off by a quarter bore, on one level of a plate's edge; opposite grooves of a
spline. Look-alike: one floor with a round wall that a deeper slot parted (between its pieces is air).
"""

from __future__ import annotations

import numpy as np
from shapely import unary_union
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from recognizer.rule import Context
from recognizer.vector import add, dot, scale, sub
from shared.units import Vector

BETWEEN = (0.1, 0.3, 0.5, 0.7, 0.9)
"""Places on the shortest way between two floors that are looked at."""
LIFT_MM = 0.02
PIECES_DEG = 180.0
CORE = 0.3
"""A floor is taken without so much of its width along its rim: a way along the part's edge shows nothing."""


def parted(ctx: Context, a: frozenset[int], b: frozenset[int]) -> bool:
    """Whether material stands on the shortest way between what two bodies have of one plane, or of one round core.

    Asked only where planes alone do not tell, since round walls bound the cuts: it takes rays through the part.
    """
    if not any(_scallop(ctx, f, body) or _core_of(ctx, f) for body in (a, b) for f in sorted(body)):
        return False
    groups = {ctx.graph.group[f] for f in a} & {ctx.graph.group[f] for f in b}
    flat = sorted(g for g in groups if ctx.faces[ctx.graph.members[g][0]].kind == "plane")
    if flat:
        return any(_shut(ctx, _way_on_plane(ctx, a, b, g)) for g in flat)
    return any(_shut(ctx, _way_round(ctx, a, b, g)) for g in sorted(groups))


def _shut(ctx: Context, ends: tuple[Vector, Vector] | None) -> bool:
    """Whether material stands between two points."""
    from recognizer.removal.frames import Shop
    from recognizer.removal.inside import in_part

    if ends is None:
        return False
    shop = ctx.__dict__.setdefault("_shop", Shop(ctx))
    (p, q), way = (np.array(shop.turn(v)) for v in ends), np.array(BETWEEN)[:, None]
    return bool(in_part(shop, p + way * (q - p)).any())


def _way_on_plane(ctx: Context, a: frozenset[int], b: frozenset[int], group: int) -> tuple[Vector, Vector] | None:
    """Ends of the shortest way over a plane."""
    from recognizer.outline import Plane2, face_polygon

    s = ctx.faces[ctx.graph.members[group][0]].surface
    plane = Plane2(s.axis)
    floors = [
        unary_union([face_polygon(ctx, f, plane) for f in sorted(body) if ctx.graph.group[f] == group])
        for body in (a, b)
    ]
    if any(f.is_empty for f in floors):
        return None
    p, q = (end.coords[0] for end in nearest_points(*map(_core, floors)))
    return plane.back(p, s.offset + LIFT_MM), plane.back(q, s.offset + LIFT_MM)


def _way_round(ctx: Context, a: frozenset[int], b: frozenset[int], group: int) -> tuple[Vector, Vector] | None:
    """Ends of the straight way from the middle of one body's piece of a round core to the other's."""
    ends = []
    for body in (a, b):
        pieces = [f for f in sorted(body) if ctx.graph.group[f] == group]
        if ctx.faces[pieces[0]].kind != "cylinder" or ctx.graph.hollow(pieces[0]):
            return None
        points = [p for f in pieces for e in ctx.snapshot.face_edges[f] for p in ctx.snapshot.edges[e].points]
        middle = tuple(np.mean(points, axis=0).tolist())
        normal = ctx.faces[pieces[0]].surface.normal_at(middle)
        if normal is None:
            return None
        s = ctx.faces[pieces[0]].surface
        level = dot(sub(middle, s.origin), s.axis)
        foot = add(s.origin, scale(s.axis, level))
        ends.append(add(foot, scale(normal, s.radius + LIFT_MM)))
    return ends[0], ends[1]


def _core_of(ctx: Context, face: int) -> bool:
    """A piece of a round wall that stands up, of which little is left: the root of a spline's grooves."""
    if ctx.faces[face].kind != "cylinder" or ctx.graph.hollow(face):
        return False
    return sum(ctx.faces[f].span for f in ctx.graph.members[ctx.graph.group[face]]) < PIECES_DEG


def _core(floor: BaseGeometry) -> BaseGeometry:
    core = floor.buffer(-CORE * 2 * floor.area / floor.length)
    return floor if core.is_empty else core


def _scallop(ctx: Context, face: int, body: frozenset[int]) -> bool:
    """A hollow cylinder beside which no other wall of its body stands: its straight edges are all open."""
    s = ctx.faces[face].surface
    if s.kind != "cylinder" or not s.hollow:
        return False
    edges = ctx.snapshot.edges
    sides = [
        (n, sign)
        for n, e, sign in ctx.graph.links(face)
        if edges[e].curve == "line" and abs(dot(edges[e].tangent, s.axis)) > 1 - 1e-6
    ]
    return bool(sides) and all(sign == "convex" and n not in body for n, sign in sides)
