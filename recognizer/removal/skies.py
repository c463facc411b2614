"""Air that stands free over single faces although no view of their feature is free as a whole.

Where a neck or a flange covers a part of a face, the feature as a whole is reached from nowhere, but a cutter still gets
to the rest of the face. Made only where figures do not close.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial

import numpy as np
import shapely
from shapely import unary_union
from shapely.geometry.base import BaseGeometry

from recognizer.outline import Plane2, box_polygon, face_polygon
from recognizer.removal.body import Body
from recognizer.removal.field import Field
from recognizer.removal.frames import Shop
from recognizer.removal.leftover import covers, free_at
from recognizer.removal.pockets import columns
from recognizer.removal.solids import Prism, Solid
from recognizer.tilts import FLAT, tilt
from recognizer.vector import dot, neg
from shared.features import Feature
from shared.units import Vector

More = Callable[[list[Body]], list[Body]]
"""Bodies so far -> further bodies."""
BESIDE = 0.05
"""Mm within which a face lies along what is left beside it."""
STEEP = 0.02
"""Faces that look along a direction with no larger cosine than this are its walls."""


def more_air(shop: Shop, features: list[Feature]) -> Iterator[More]:
    """Ways to find more bodies, one a main direction: over level faces first, then over all others."""
    views = Counter(v.direction for f in features for v in f.views if v.reachable)
    directions = sorted(
        shop.ctx.frame.directions, key=lambda d: -sum(n for v, n in views.items() if dot(v, d) > 1 - 1e-7)
    )
    for d in directions:
        yield partial(_over_level, shop, features, d)
    for d in shop.ctx.frame.axes:
        yield partial(_round_outline, shop, features, d)
    for d in directions:
        yield partial(_over_slopes, shop, features, d)


def _over_level(shop: Shop, features: list[Feature], d: Vector, bodies: list[Body]) -> list[Body]:
    """Bodies of what stands free over level faces and is in no upright prism yet; named as the faces' features."""
    ctx, out, top = shop.ctx, [], shop.top_of_box(d)
    for f, i in _facing(shop, features, d, level=True):
        low = ctx.extent(i, d)[1]
        face = shop.fine(face_polygon(ctx, i, Plane2(d)), [i], d)
        region = shapely.intersection(face, unary_union(free_at(shop, d, low)))
        region = region.difference(unary_union(_standing(shop, bodies, d, low, top)))
        if region.area > ctx.tol.share * face.area + 1e-3:
            out.append(Body(f.id, [shop.prism(d, region, low, top)]))
    return out


def _round_outline(shop: Shop, features: list[Feature], d: Vector, bodies: list[Body]) -> list[Body]:
    """Bodies of what lies beside the whole part along d, under no face of it: the corners of the box round a turned cone.

    Each piece goes to the feature whose round faces lie along it farthest; beside plane faces it is another cut's.
    """
    if any(f.kind == "outside_profile" and abs(dot(f.views[0].direction, d)) > 0.5 for f in features):
        return []
    low, top = -shop.top_of_box(neg(d)), shop.top_of_box(d)
    taken = unary_union(_standing(shop, bodies, d, low, top))
    beside = [
        (f, face_polygon(shop.ctx, i, Plane2(d)).buffer(BESIDE))
        for f in features
        for i in f.faces
        if shop.ctx.faces[i].kind != "plane" and not shop.ctx.graph.hollow(i)
    ]
    out = []
    for piece in free_at(shop, d, low):
        left = piece.difference(taken).buffer(-BESIDE).buffer(BESIDE)
        shares = [(round(left.boundary.intersection(near).length, 3), f) for f, near in beside]
        most, owner = max(shares, key=lambda s: s[0], default=(0.0, None))
        if left.area > 1e-2 and owner is not None and most > 0:
            out.append(Body(owner.id, [shop.prism(d, piece.difference(taken), low, top)]))
    return out


def _over_slopes(shop: Shop, features: list[Feature], d: Vector, bodies: list[Body]) -> list[Body]:
    """Bodies of what stands free over leaning and curved faces and is in no body yet."""
    ctx, out = shop.ctx, []
    for f, i in _facing(shop, features, d, level=False):
        solids = [s for s in columns(shop, [i], d, shop.top_of_box(d)) if not _taken(shop, s, bodies)]
        if solids:
            cover = unary_union(covers(shop, d, ctx.extent(i, d)[0], frozenset([i])))
            free = box_polygon(ctx, Plane2(d)).difference(cover)
            out += [Body(f.id, [kept]) for s in solids if (kept := _under(s, free)) is not None]
    return out


def _facing(shop: Shop, features: list[Feature], d: Vector, level: bool) -> list[tuple[Feature, int]]:
    """Faces below the top of the box that look along a direction: the level ones or all others."""
    ctx, out = shop.ctx, []
    highest = shop.top_of_box(d) - 2 * ctx.tol.length_mm
    for f in features:
        for i in dict.fromkeys((*f.faces, *f.blends)):
            least, most = tilt(ctx, i, d)
            flat = ctx.faces[i].kind == "plane" and least > 1 - FLAT
            if flat == level and least > -10 * FLAT and most > STEEP and ctx.extent(i, d)[0] < highest:
                out.append((f, i))
    return out


def _standing(shop: Shop, bodies: list[Body], d: Vector, low: float, top: float) -> list[BaseGeometry]:
    """Outlines of whole prisms along d that reach from a level, or from below it, to the top."""
    way = shop.turn(d)
    prisms = [s for b in bodies if not b.fills for s in b.adds if isinstance(s, Prism) and not s.halves]
    return [s.region for s in prisms if dot(s.d, way) > 1 - 1e-9 and s.low < low + 1e-6 and s.high > top - 1e-6]


def _taken(shop: Shop, solid: Solid, bodies: list[Body]) -> bool:
    """Every sample of a solid inside the box lies in a body."""
    p = solid.samples()
    if isinstance(solid, Field):  # its samples stand half way up; what is free may end far below
        rise = solid.level - solid.base.mean(axis=1)
        p = np.concatenate([p, p - np.outer(0.45 * rise, solid.d)])
    p = p[((p > np.array(shop.low)) & (p < np.array(shop.high))).all(axis=1)]
    for b in bodies:
        near = ((p > b.bounds[0]) & (p < b.bounds[1])).all(axis=1) if len(p) else np.zeros(0, bool)
        if near.any():
            near[near] = b.contains(p[near], 0.0)
            p = p[~near]
    return not len(p)


def _under(solid: Solid, free: BaseGeometry) -> Solid | None:
    """The part of a column that stands over free ground."""
    if isinstance(solid, Prism):
        region = solid.region.intersection(free)
        return replace(solid, region=region) if region.area > 1e-3 else None
    if isinstance(solid, Field):
        x, y = solid.triangles.mean(axis=1).T
        keep = shapely.contains_xy(free, x, y)
        return replace(solid, triangles=solid.triangles[keep], base=solid.base[keep]) if keep.any() else None
    return None
