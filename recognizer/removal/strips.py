"""Removal bodies of chamfers and edge rounds: the strip between the faces beside them and the broken edge."""

from __future__ import annotations

from math import pi

from shapely import Polygon

from recognizer.families.edges.chamfer import MAX_BEND_DEG
from recognizer.families.edges.flank import flank_pairs
from recognizer.outline import Plane2
from recognizer.removal.arcs import arc_points
from recognizer.removal.body import Body
from recognizer.removal.frames import Shop
from recognizer.removal.pockets import columns, free_ways
from recognizer.removal.solids import Half, Solid
from recognizer.snapshot import Edge
from recognizer.vector import dot, neg, sub
from shared.features import Feature
from shared.units import Vector

Point = tuple[float, float]
SQUARE = 1 - 1e-6


def strip_body(shop: Shop, f: Feature) -> Body | None:
    """All faces' strips."""
    solids = [s for i in f.faces for s in _strip(shop, i)]
    return Body(f.id, solids) if solids else None


def _strip(shop: Shop, face: int) -> list[Solid]:
    kind = shop.ctx.faces[face].kind
    if kind in ("plane", "cylinder"):
        return _straight(shop, face)
    if kind in ("cone", "torus"):
        return _turned(shop, face)
    # The broken edge lies within the strip's own box, so the columns end at the strip's own top.
    return [s for d in free_ways(shop, [face])[:1] for s in columns(shop, [face], d, shop.ctx.extent(face, d)[1])]


def _straight(shop: Shop, face: int) -> list[Solid]:
    """Prism along a chamfer or a rounding cylinder: its two long edges, and where the flanks' lines would meet."""
    ctx, s = shop.ctx, shop.ctx.faces[face].surface
    edges = ctx.snapshot.edges
    pairs = [
        p for p in flank_pairs(ctx, face, ("convex", "smooth")) if edges[p[0]].curve == edges[p[2]].curve == "line"
    ]
    pairs = [p for p in pairs if max(edges[p[0]].bend, edges[p[2]].bend) <= MAX_BEND_DEG]
    if s.kind == "cylinder":
        pairs = [p for p in pairs if abs(dot(edges[p[0]].tangent, s.axis)) > 1 - 1e-6]
    if not pairs:
        return []
    a, na, b, nb = max(pairs, key=lambda p: round(edges[p[0]].length + edges[p[2]].length, 6))
    e = s.axis if s.kind == "cylinder" else edges[a].tangent
    plane = Plane2(e)
    p, q = plane.at(edges[a].middle), plane.at(edges[b].middle)
    (p1, n), (q1, m) = (_flank(shop, na, edges[a], plane), _flank(shop, nb, edges[b], plane))
    if s.kind == "plane":
        (p1, n), (q1, m) = (_flank(shop, f, edges[k], plane) for k, f in (_beyond(shop, a, na), _beyond(shop, b, nb)))
        # Where a round follows, the chamfer was cut first, up to the flank behind the round.
        own = plane.at(s.axis)
        p, q = _meeting(p, own, p1, n) or p, _meeting(q, own, q1, m) or q
    corner = _meeting(p1, n, q1, m)
    if corner is None:
        return []
    ring = [p, corner, q]
    if s.kind == "cylinder":
        ring += _arc_back(plane.at(s.origin), s.radius, q, p)
    low, high = ctx.extent(face, e)
    return [shop.prism(e, Polygon(ring).buffer(0), low, high, _mitres(shop, face, e))]


def _mitres(shop: Shop, face: int, e: Vector) -> list[Half]:
    """Half-spaces that end a strip in front of planes that meet it slantwise in an inner corner, such as the next strip."""
    planes = {
        n
        for n, _, sign in shop.ctx.graph.links(face)
        if sign == "concave"
        and shop.ctx.faces[n].kind == "plane"
        and abs(dot(shop.ctx.faces[n].surface.axis, e)) < SQUARE
    }
    surfaces = [shop.ctx.faces[n].surface for n in sorted(planes)]
    return [shop.half(neg(s.axis), -s.offset) for s in surfaces]


def _beyond(shop: Shop, edge: int, face: int) -> tuple[int, int]:
    """(edge, flank) beside a strip; over a round that runs smoothly into the strip, those on the round's other side."""
    ctx = shop.ctx
    surface = ctx.faces[face].surface
    if surface.kind == "cylinder" and not surface.hollow and ctx.snapshot.edges[edge].bend == 0:
        for a, na, b, nb in flank_pairs(ctx, face, ("smooth",)):
            if edge in (a, b) and ctx.snapshot.edges[a].curve == ctx.snapshot.edges[b].curve == "line":
                return (b, nb) if edge == a else (a, na)
    return edge, face


def _flank(shop: Shop, face: int, edge: Edge, plane: Plane2) -> tuple[Point, Point | None]:
    """A point of a flank at an edge and its normal there, seen along the strip."""
    n = shop.ctx.faces[face].surface.normal_at(edge.middle)
    return plane.at(edge.middle), plane.at(n) if n is not None else None


def _meeting(p: Point, n: Point | None, q: Point, m: Point | None) -> Point | None:
    """Where the line through p square to n meets the line through q square to m."""
    if n is None or m is None:
        return None
    det = n[0] * m[1] - n[1] * m[0]
    if abs(det) < 1e-6:
        return None
    c, k = n[0] * p[0] + n[1] * p[1], m[0] * q[0] + m[1] * q[1]
    return ((c * m[1] - k * n[1]) / det, (n[0] * k - m[0] * c) / det)


def _arc_back(c: Point, r: float, start: Point, end: Point) -> list[Point]:
    """Inner points of the shorter arc from start to end."""
    from math import atan2

    a, b = atan2(start[1] - c[1], start[0] - c[0]), atan2(end[1] - c[1], end[0] - c[0])
    b += 2 * pi * round((a - b) / (2 * pi))
    return arc_points(c, r, a, b)[1:-1]


def _turned(shop: Shop, face: int) -> list[Solid]:
    """Body of revolution between a cone or torus and the corner where its flanks would meet."""
    s = shop.ctx.faces[face].surface
    a = s.axis
    line = shop.meridian(face, a)
    p, q = line[0], line[-1]
    ends = []
    for r in (p, q):
        flank = _flank_at(shop, face, a, r)
        ends.append(flank)
    corner = _meeting(p, ends[0], q, ends[1])
    if corner is None or corner[1] < -1e-6:
        return []
    profile = Polygon([*line, corner]).buffer(0)
    return shop.revolved(s.origin, a, profile, shop.sector([face], s.origin, a))


def _flank_at(shop: Shop, face: int, a: Vector, end: Point) -> Point | None:
    """Normal (along the axis, outwards) of the face beside a turned strip at one of its ends."""
    ctx, s = shop.ctx, shop.ctx.faces[face].surface
    base = dot(s.origin, a)
    for n, e, _ in ctx.graph.links(face):
        points = ctx.snapshot.edges[e].points
        if ctx.snapshot.edges[e].curve == "line":  # an end of the strip, not a side
            continue
        m = points[len(points) // 2]  # not the middle, which may lie on a chord
        rel = sub(m, s.origin)
        t = dot(rel, a)
        radial = tuple(rel[k] - t * a[k] for k in range(3))
        r = dot(radial, radial) ** 0.5  # type: ignore[arg-type]
        if abs(base + t - end[0]) < 0.01 and abs(r - end[1]) < 0.01 and r > 1e-6:
            normal = ctx.faces[n].surface.normal_at(m)
            if normal is not None:
                return (dot(normal, a), dot(normal, radial) / r)  # type: ignore[arg-type]
    return None
