"""Leftover air above a level floor: what lies beyond its open sides and is free all the way up.

A floor's outline ends where another cut or a broken edge begins. The cutter swings on over such places, so the column
above them goes with the floor. Free at a level along d is whatever lies under no face that looks along d from higher up:
material always ends upwards in such a face.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from shapely import unary_union
from shapely.geometry.base import BaseGeometry

from recognizer.outline import Plane2, box_polygon, face_polygon
from recognizer.removal.body import Body
from recognizer.removal.frames import Shop
from recognizer.removal.solids import Prism, Solid, clipped
from recognizer.tilts import FLAT, tilt, tilts
from recognizer.vector import dot
from shared.features import HOLE_KINDS, POCKET_KINDS, Feature
from shared.units import Vector

ISLAND = 0.01
"""Share of a hole's section from which on what stands in it is an island."""
SLIVER = 2e-3
"""Strips of free space thinner than twice this, in mm, are the outlines' inexactness."""


def leftovers(shop: Shop, features: list[Feature], bodies: list[Body]) -> list[Body]:
    """Bodies of the free space that joins each level floor's prism at its own level; named as the feature."""
    by_name = {b.name: b for b in bodies}
    out = []
    for f in sorted(
        features, key=lambda f: ((*POCKET_KINDS, "planar_face").index(f.kind) if _wide(f) else 9, f.faces[0])
    ):
        body = by_name.get(f.id)
        if not _wide(f) or body is None:
            continue
        for d in _ways(shop, f):
            low = shop.ctx.span(f.faces, d)[0]
            own = [s for s in body.adds if isinstance(s, Prism) and dot(s.d, shop.turn(d)) > 1 - 1e-9]
            extra = _joined(free_at(shop, d, low), [s.region for s in own])
            if extra is not None:
                out.append(Body(f.id, [shop.prism(d, extra, low, shop.top_of_box(d))]))
    return out


def trimmed(shop: Shop, features: list[Feature], bodies: list[Body], names: set[str]) -> list[Body]:
    """Bodies of which the named ones lose the columns in which the part stands up above their floor.

    An outline is the hull of what other cuts left of the faces: the part may reach into it.
    """
    by_id = {f.id: f for f in features}
    out = []
    for b in bodies:
        f = by_id[b.name]
        if b.name in names and (_wide(f) or f.kind in HOLE_KINDS) and f.views:
            b = replace(b, adds=[_trimmed(shop, f, s) for s in b.adds])
            b.adds = [s for s in b.adds if not isinstance(s, Prism) or s.region.area > 1e-6]
        if b.adds:
            out.append(b)
    return out


def _trimmed(shop: Shop, f: Feature, solid: Solid) -> Solid:
    d = f.views[0].direction
    if not isinstance(solid, Prism) or dot(solid.d, shop.turn(d)) < 1 - 1e-9:
        return solid
    own = frozenset((*f.faces, *f.bottom, *f.blends))
    cover = unary_union(covers(shop, d, solid.low, own))
    if not _wide(f):  # a hole's own outline is exact: only what stands well inside it, an island, is taken off
        cover = cover.buffer(-2 * SLIVER, join_style="mitre")
        if cover.intersection(solid.region).area < ISLAND * solid.region.area:
            return solid
    return replace(solid, region=solid.region.difference(cover))


def _wide(f: Feature) -> bool:
    return f.kind in POCKET_KINDS or f.kind == "planar_face"


def _ways(shop: Shop, f: Feature) -> list[Vector]:
    """Directions from which the feature is reached with a level floor below, and for a through one both of its ends."""
    out = []
    for v in f.views:
        floors = [i for i in f.faces if tilt(shop.ctx, i, v.direction)[0] > 1 - FLAT]
        if v.reachable and (floors or v.through):
            out.append(v.direction)
    return out


def _joined(pieces: list[BaseGeometry], own: list[BaseGeometry]) -> BaseGeometry | None:
    """Pieces of free space that touch an outline, without it."""
    if not own:
        return None
    region = unary_union(own)
    grown = region.buffer(4 * SLIVER)
    near = [p for p in pieces if p.intersects(grown)]
    if not near:
        return None
    extra = unary_union(near).difference(region.buffer(SLIVER / 4, join_style="mitre"))
    extra = unary_union([p for p in getattr(extra, "geoms", [extra]) if p.geom_type == "Polygon" and p.area > 1e-3])
    return None if extra.is_empty else extra


def free_at(shop: Shop, d: Vector, low: float) -> list[BaseGeometry]:
    """Polygons across d, inside the box, under no face that looks along d from above a level."""
    return shop.once(("free", d, round(low, 4)), lambda: _free_at(shop, d, low))  # type: ignore[no-any-return]


def _free_at(shop: Shop, d: Vector, low: float) -> list[BaseGeometry]:
    frame = box_polygon(shop.ctx, Plane2(d))
    free = frame.difference(unary_union(covers(shop, d, low))).simplify(1e-6).buffer(SLIVER, join_style="mitre")
    free = shapely.intersection(free, frame)
    return [p for p in getattr(free, "geoms", [free]) if p.geom_type == "Polygon" and p.area > 1e-3]


def covers(shop: Shop, d: Vector, low: float, own: frozenset[int] = frozenset()) -> list[BaseGeometry]:
    """Projections of the faces, but for own ones, that look along d from above a level; a sliver wider than they are."""
    ctx = shop.ctx
    plane = Plane2(d)
    slack = 2 * ctx.tol.length_mm
    looking = (tilts(ctx, d)[1] >= 10 * FLAT) & (np.array(ctx.snapshot.levels(d)[1]) >= low + slack)
    polygons = [_above(shop, f, plane, low) for f in np.flatnonzero(looking).tolist() if f not in own]
    seen = [p for p in polygons if not p.is_empty]
    return list(shapely.buffer(seen, SLIVER, quad_segs=1, join_style="mitre")) if seen else []


def _above(shop: Shop, face: int, plane: Plane2, low: float) -> BaseGeometry:
    """Projection of the part of a face that lies above a level."""
    ctx = shop.ctx
    polygon = shop.once(("seen", face, plane.d), lambda: shop.fine(face_polygon(ctx, face, plane), [face], plane.d))
    s = ctx.faces[face].surface
    if s.kind == "plane" and ctx.extent(face, plane.d)[0] < low:
        # Level over (x, y): (offset - n . (x u + y v)) / (n . d), above low where n . (x u + y v) < offset - low n . d.
        return clipped(polygon, dot(s.axis, plane.u), dot(s.axis, plane.v), s.offset - low * dot(s.axis, plane.d))
    return polygon
