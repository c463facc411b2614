"""Removal bodies of steps, slots, pockets, planar faces, bosses and outside profiles: everything above their faces.

What a feature's face sees along a direction from which it is reachable is free in the finished part. So the body is
the column over the faces, up to the stock's surface: the outline's prism where the floor is level, less what stands
under leaning walls and floor radii; column by column where floors lie at several levels.
"""

from __future__ import annotations

from math import pi

import numpy as np
from shapely import Polygon, unary_union
from shapely.geometry.base import BaseGeometry

from recognizer.bodies import is_convex
from recognizer.ceilings import ceilings
from recognizer.outline import Plane2, Region, box_polygon, face_polygon
from recognizer.outline_traced import between_walls
from recognizer.removal.arcs import arc_points
from recognizer.removal.body import Body
from recognizer.removal.frames import Shop
from recognizer.removal.leftover import covers
from recognizer.removal.revolve import Revolve
from recognizer.removal.solids import Half, Solid
from recognizer.snapshot import Edge, Surface
from recognizer.tilts import FLAT, tilt
from recognizer.vector import cross, distance, dot, length, neg, sub, unit
from recognizer.views import Look, looks
from shared.features import Feature
from shared.units import Vector


def pocket_body(shop: Shop, f: Feature) -> Body | None:
    """Body of a step, slot, open or closed pocket."""
    if not f.views:
        return None
    view = f.views[0]
    look = next((k for k in looks(shop.ctx, frozenset(f.faces)) if dot(k.d, view.direction) > 1 - 1e-7), None)
    if look is None or look.outline.region.is_empty:
        return None
    low = min(look.low, view.bottom)
    high = shop.top_of_box(look.d) if view.reachable else view.top
    if look.through and any(v.reachable and dot(v.direction, look.d) < -1 + 1e-7 for v in f.views):
        low = -shop.top_of_box(neg(look.d))
    floors = [shop.ctx.extent(i, look.d)[0] for i in look.reading.floors]
    if floors and max(floors) - min(floors) > 2 * shop.ctx.tol.length_mm:
        return Body(f.id, columns(shop, f.faces, look.d, high))
    if floors and min(floors) > low + 2 * shop.ctx.tol.length_mm:
        return _with_cellar(shop, f, look, (low, min(floors), high))
    return _level_body(shop, f, look, low, high)


def _with_cellar(shop: Shop, f: Feature, look: Look, levels: tuple[float, float, float]) -> Body:
    """Body of a pocket whose walls go on below its floor: there only what lies under no face is free."""
    low, floor, high = levels
    body = _level_body(shop, f, look, floor, high)
    free = shop.fine(look.outline.region, f.faces, look.d).difference(unary_union(covers(shop, look.d, low)))
    if free.area > 1e-6:
        body.adds.append(shop.prism(look.d, free, low, floor))
    return body


def _level_body(shop: Shop, f: Feature, look: Look, low: float, high: float) -> Body:
    """Prism over the outline; planes that lean cut it, and the material under other leaning faces is left standing."""
    ctx, d = shop.ctx, look.d
    region = shop.fine(look.outline.region, f.faces, d)
    halves: list[Half] = []
    fills: list[Solid] = []
    whole = is_convex(ctx, f.faces)
    troughs: set[int] = set()
    for i in look.reading.leans:
        s = ctx.faces[i].surface
        if _lies(shop, i, d) and ctx.graph.group[i] in troughs:
            continue  # filled as far as its pieces reach
        troughs.add(ctx.graph.group[i])
        if s.kind == "plane" and whole:
            halves.append(shop.half(neg(s.axis), -s.offset))
        else:
            fills += _under_trough(shop, i, d, low, f.faces) if _lies(shop, i, d) else under_face(shop, i, d, low)
    return Body(f.id, [shop.prism(d, region, low, high, halves)], fills, disjoint=not halves and _apart(fills))


def _apart(solids: list[Solid]) -> bool:
    """No two solids' boxes overlap, or the profiles of two that turn about one axis."""
    if len(solids) < 2:
        return True
    low, high = np.array([s.bounds for s in solids]).transpose(1, 0, 2)
    meet = ((low[:, None] < high - 1e-6) & (low < high[:, None] - 1e-6)).all(axis=2)
    for i, j in zip(*np.nonzero(np.triu(meet, 1)), strict=True):
        a, b = solids[i], solids[j]
        if not (isinstance(a, Revolve) and isinstance(b, Revolve) and a.beside(b)):
            return False
    return True


def under_face(shop: Shop, face: int, d: Vector, low: float) -> list[Solid]:
    """Material that stands under a leaning face, down to a level along d."""
    ctx = shop.ctx
    s = ctx.faces[face].surface
    if s.kind == "plane":
        top = ctx.extent(face, d)[1]
        region = shop.fine(face_polygon(ctx, face, Plane2(d)), [face], d)
        return [shop.prism(d, region, low, top, [shop.half(s.axis, s.offset)])]
    if _lies(shop, face, d):
        return _under_trough(shop, face, d, low, [face])
    if (s.kind in ("cone", "torus") and abs(dot(s.axis, d)) > 1 - 1e-6) or _dome(shop, face, d):
        line = shop.meridian(face, d)
        profile = Polygon([*line, (low, line[-1][1]), (low, line[0][1])]).buffer(0)
        return shop.revolved(s.origin, d, profile, shop.sector([face], s.origin, d))
    return shop.facet_solids(face, d, low, above=False)


def _dome(shop: Shop, face: int, d: Vector) -> bool:
    """A hollow sphere whose rims run round d through its centre, or along meridians about it: a bowl, or a sector of one."""
    f = shop.ctx.faces[face]
    edges = [shop.ctx.snapshot.edges[e] for e in shop.ctx.snapshot.face_edges[face]]
    rims = [e for e in edges if not e.seam and not e.degenerate]
    return f.kind == "sphere" and f.surface.hollow and all(_about(e, f.surface, d) for e in rims)


def _about(rim: Edge, sphere: Surface, d: Vector) -> bool:
    """Whether a rim of a sphere is a circle round its axis along d, or lies on a meridian."""
    if rim.curve != "circle" or not rim.axis or not rim.centre:
        return False
    away = sub(rim.centre, sphere.origin)
    round_d = abs(dot(rim.axis, d)) > 1 - 1e-6 and length(cross(away, d)) < 1e-4
    return round_d or (abs(dot(rim.axis, d)) < 1e-6 and length(away) < 1e-4)


def _lies(shop: Shop, face: int, d: Vector) -> bool:
    """A hollow cylinder across d."""
    s = shop.ctx.faces[face].surface
    return s.kind == "cylinder" and abs(dot(s.axis, d)) < 1e-6 and s.hollow


def _under_trough(shop: Shop, face: int, d: Vector, low: float, own: list[int]) -> list[Solid]:
    """Under a hollow cylinder that lies across d: a prism along its axis, between arc and level, from one end of its pieces
    in a feature to the other: what another cut took between them was never under it.
    """
    pieces = [i for i in own if shop.ctx.graph.group[i] == shop.ctx.graph.group[face]]
    s = shop.ctx.faces[face].surface
    e = s.axis
    plane = Plane2(e)
    across = unit(cross(d, e))
    x, y, z = (np.concatenate([shop.points(i) for i in pieces]) - np.array(s.origin)).T
    up, beside = (x * w[0] + y * w[1] + z * w[2] for w in (d, across))
    angles = np.arctan2(up, beside)
    angles[angles > 1e-6] -= 2 * pi
    rise, side = plane.at(d), plane.at(across)
    x0, y0 = plane.at(s.origin)
    base = dot(s.origin, d)

    def at(t: float, h: float) -> tuple[float, float]:
        return (x0 + t * side[0] + h * rise[0], y0 + t * side[1] + h * rise[1])

    arc = arc_points((0.0, 0.0), s.radius, float(angles.min()), float(angles.max()))
    ring = [at(t, h) for t, h in arc] + [at(arc[-1][0], low - base), at(arc[0][0], low - base)]
    a, b = shop.ctx.span(pieces, e)
    return [shop.prism(e, Polygon(ring).buffer(0), a, b)]


def columns(shop: Shop, faces: list[int], d: Vector, high: float) -> list[Solid]:
    """Columns over every face that looks along d, up to a level."""
    out: list[Solid] = []
    ctx = shop.ctx
    for i in faces:
        low, up = tilt(ctx, i, d)
        if low < -10 * FLAT or up < 10 * FLAT:
            continue
        if ctx.faces[i].kind != "plane":
            out += _over_turned(shop, i, d, high) or shop.facet_solids(i, d, high, above=True)
            continue
        region = shop.fine(open_filled(shop, i, d), [i], d)
        if region.area > 1e-9:
            s = ctx.faces[i].surface
            halves = [] if low > 1 - FLAT else [shop.half(neg(s.axis), -s.offset)]
            out.append(shop.prism(d, region, ctx.extent(i, d)[0], high, halves))
    return out


def _over_turned(shop: Shop, face: int, d: Vector, high: float) -> list[Solid]:
    """Over a whole turn of a cone, sphere or torus about d, up to a level: exact, where its facets would be chords."""
    f = shop.ctx.faces[face]
    s = f.surface
    edges = [shop.ctx.snapshot.edges[e] for e in shop.ctx.snapshot.face_edges[face]]
    rims = [e for e in edges if not e.seam and not e.degenerate]
    about_d = s.kind == "sphere" or (s.kind in ("cone", "torus") and abs(dot(s.axis, d)) > 1 - 1e-6 and f.span > 359)
    if not about_d or not rims or len(rims) != len({e.radius for e in rims}):
        return []
    for e in rims:
        if e.curve != "circle" or not e.axis or not e.centre or abs(dot(e.axis, d)) < 1 - 1e-6:
            return []
        if length(cross(sub(e.centre, s.origin), d)) > 1e-4 or distance(e.start, e.end) > 1e-6:
            return []
    line = shop.meridian(face, d)
    profile = Polygon([*line, (high, line[-1][1]), (high, line[0][1])]).buffer(0)
    return shop.revolved(s.origin, d, profile)


def open_filled(shop: Shop, face: int, d: Vector) -> BaseGeometry:
    """Projection of a plane face; inner loops where it falls away all round are mouths of deeper cuts and are filled."""
    ctx, plane = shop.ctx, Plane2(d)
    region = face_polygon(ctx, face, plane)
    signs = {e: sign for _, e, sign in ctx.graph.links(face)}
    for k, loop in enumerate(ctx.faces[face].loops):
        if k and all(signs.get(e) == "convex" for e, _ in loop):
            ring = [plane.at(p) for p in ctx.snapshot.loop_points(face, k)]
            if len(ring) > 2:
                region = region.union(Polygon(ring).buffer(1e-6))
    return region


def planar_body(shop: Shop, f: Feature) -> Body | None:
    """Columns over faces that no wall closes in, from every main direction that they face freely."""
    if all(i in shop.ctx.box_faces for i in f.faces):
        return None
    solids: list[Solid] = []
    for d in free_ways(shop, f.faces) or [v.direction for v in f.views if v.reachable][:1]:
        solids += columns(shop, f.faces, d, shop.top_of_box(d))
    return Body(f.id, solids) if solids else None


def free_ways(shop: Shop, faces: list[int]) -> list[Vector]:
    """Main directions that all faces look along with nothing above them."""
    ctx = shop.ctx
    out = []
    for d in ctx.frame.directions:
        if any(tilt(ctx, i, d)[0] < -10 * FLAT for i in faces) or not any(tilt(ctx, i, d)[1] > 0.02 for i in faces):
            continue
        region = unary_union([face_polygon(ctx, i, Plane2(d)) for i in faces])
        share, _ = ceilings(ctx, d).over(Region(region), ctx.span(faces, d)[0], frozenset(faces))
        if region.area > 1e-6 and share <= ctx.tol.share:
            out.append(d)
    return out


def outside_body(shop: Shop, f: Feature) -> Body | None:
    """The box without the outline, from end to end where both ends are free."""
    from recognizer.bodies import read

    ctx = shop.ctx
    view = f.views[0]
    d = view.direction
    reading = read(ctx, f.faces, d)
    inside = shop.fine(between_walls(ctx, reading, Plane2(d)), f.faces, d)
    region = box_polygon(ctx, Plane2(d)).difference(inside)
    ways = [v.direction for v in f.views if v.reachable]
    high = shop.top_of_box(d) if any(dot(w, d) > 0 for w in ways) else view.top
    low = -shop.top_of_box(neg(d)) if any(dot(w, d) < 0 for w in ways) else view.bottom
    return Body(f.id, [shop.prism(d, region, low, high)]) if region.area > 1e-9 else None
