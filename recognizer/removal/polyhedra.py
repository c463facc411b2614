"""Removal bodies as triangle solids: what several of them have in common, exact for their polygons.

Round solids keep their volume: 72 corners a turn, moved out so that a section has the circle's area.
"""

from __future__ import annotations

from functools import singledispatch

import manifold3d
import numpy as np
import shapely
from manifold3d import CrossSection, FillRule, Manifold, Mesh64

from recognizer.removal.arcs import CHORDS, SWELL
from recognizer.removal.body import Body
from recognizer.removal.field import Field
from recognizer.removal.revolve import Revolve
from recognizer.removal.solids import Half, Prism, Solid, polygons_of
from recognizer.snapshot import plane_axes
from shared.units import Vector

Solids = dict[int, tuple[Body, Manifold]]
"""Triangle solids made before, by the ids of their bodies, which are kept so that no id is used twice."""


COLUMN = ((0, 2, 1), (3, 4, 5), (0, 1, 4), (0, 4, 3), (1, 2, 5), (1, 5, 4), (2, 0, 3), (2, 3, 5))
"""Triangles of a column with the corners 0, 1, 2 below and 3, 4, 5 above, seen from outside anticlockwise."""
SAME = 1e-6
"""Mm by which a solid may reach out of the box."""


def volume_inside(body: Body, box: np.ndarray, solids: Solids) -> float:
    """mm3 of a body inside a box (2, 3)."""
    return float(_trimmed(_solid_of(body, solids), body.bounds, box).volume())


def shared_volume(body: Body, others: list[Body], box: np.ndarray, solids: Solids) -> float:
    """mm3 inside a box (2, 3) that a body has in common with any of the others."""
    own = _trimmed(_solid_of(body, solids), body.bounds, box)
    whole = rest = float(own.volume())
    for other in sorted(others, key=lambda b: -_common(b.bounds, box)):
        low, high = np.array(own.bounding_box()).reshape(2, 3)
        if rest > 0 and ((other.bounds[0] < high) & (other.bounds[1] > low)).all():
            own -= _solid_of(other, solids)
            rest = float(own.volume())
    return whole - rest


def _common(bounds: np.ndarray, box: np.ndarray) -> float:
    """mm3 that two boxes have in common."""
    return float(np.prod(np.maximum(0.0, np.minimum(bounds[1], box[1]) - np.maximum(bounds[0], box[0]))))


def _solid_of(body: Body, solids: Solids) -> Manifold:
    if id(body) not in solids:
        made = _all([manifold_of(s) for s in body.adds])
        if body.fills:
            made -= _all([manifold_of(s) for s in body.fills])
        solids[id(body)] = body, made
    return solids[id(body)][1]


def _all(solids: list[Manifold]) -> Manifold:
    return solids[0] if len(solids) == 1 else Manifold.batch_boolean(solids, manifold3d.OpType.Add)


def _trimmed(solid: Manifold, bounds: np.ndarray, box: np.ndarray) -> Manifold:
    """What of a solid with these bounds lies in a box."""
    for k in range(3):
        axis = tuple(float(k == m) for m in range(3))
        if bounds[0][k] < box[0][k] - SAME:
            solid = solid.trim_by_plane(axis, float(box[0][k]))
        if bounds[1][k] > box[1][k] + SAME:
            solid = solid.trim_by_plane(tuple(-c for c in axis), -float(box[1][k]))
    return solid


@singledispatch
def manifold_of(solid: Solid) -> Manifold:
    """A solid of a body as triangles."""
    raise TypeError(f"no triangles of a {type(solid).__name__}")


@manifold_of.register
def _(solid: Prism) -> Manifold:
    rings = [shapely.get_coordinates(r)[:-1] for p in polygons_of(solid.region) for r in (p.exterior, *p.interiors)]
    made = Manifold.extrude(CrossSection(rings, FillRule.EvenOdd), solid.high - solid.low)
    return _cut(_placed(made, (solid.u, solid.v, solid.d), np.array(solid.d) * solid.low), solid.halves)


@manifold_of.register
def _(solid: Revolve) -> Manifold:
    rings = [
        shapely.get_coordinates(r)[:-1, ::-1] * (SWELL, 1.0)
        for p in polygons_of(solid.profile)
        for r in (p.exterior, *p.interiors)
    ]
    made = Manifold.revolve(CrossSection(rings, FillRule.EvenOdd), CHORDS)
    u, v = plane_axes(solid.a)
    return _cut(_placed(made, (u, v, solid.a), np.array(solid.o) - solid.base * np.array(solid.a)), solid.halves)


@manifold_of.register
def _(solid: Field) -> Manifold:
    flat = solid.triangles
    a, b = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
    twice = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    kept = np.abs(twice) > 1e-9
    order = np.where(twice[kept, None] > 0, (0, 1, 2), (0, 2, 1))
    flat = np.take_along_axis(flat[kept], order[:, :, None], axis=1)
    base = np.take_along_axis(solid.base[kept], order, axis=1)
    up = twice[kept] > 0
    whole = _sheet(flat, base, solid)
    if whole is not None:
        return whole
    return _all([_sheet(flat[k], base[k], solid) or _columns(flat[k], base[k], solid) for k in (up, ~up) if k.any()])


def _columns(flat: np.ndarray, base: np.ndarray, solid: Field) -> Manifold:
    """Union of the columns one by one."""
    level = np.full(base.shape, solid.level)
    ends = (base, level) if solid.above else (level, base)
    corners = np.concatenate([np.concatenate([flat, e[:, :, None]], axis=2) for e in ends], axis=1)
    rows = np.array(COLUMN, dtype=np.uint64)
    return _all([Manifold(Mesh64(column, rows)) for column in corners @ np.array([solid.u, solid.v, solid.d])])


def _sheet(flat: np.ndarray, base: np.ndarray, solid: Field) -> Manifold | None:
    """Columns as one piece of the same volume: facets were lifted to their surface one by one; where they meet, the
    piece's end goes through the mean. None where the surface folds over and columns stand in each other.
    """
    places, corner = np.unique(flat.reshape(-1, 2).round(6), axis=0, return_inverse=True)
    corner = corner.reshape(-1, 3)
    level = np.bincount(corner.ravel(), base.ravel()) / np.bincount(corner.ravel())
    a, b = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
    area = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    level += np.average((base - level[corner]).mean(axis=1), weights=area)
    sheet, end = np.column_stack([places, level]), np.column_stack([places, np.full(len(places), solid.level)])
    low, high = (sheet, end) if solid.above else (end, sheet)
    count = len(places)
    sides = np.concatenate([corner[:, (m, (m + 1) % 3)] for m in range(3)])
    ahead = sides[:, 0] * count + sides[:, 1]
    if len(np.unique(ahead)) < len(ahead):
        return None
    inner = np.isin(ahead, sides[:, 1] * count + sides[:, 0])
    p, q = sides[~inner].T
    walls = [np.column_stack([p, q, q + count]), np.column_stack([p, q + count, p + count])]
    triangles = np.concatenate([corner[:, ::-1], corner + count, *walls]).astype(np.uint64)
    made = Manifold(Mesh64(np.concatenate([low, high]) @ np.array([solid.u, solid.v, solid.d]), triangles))
    return made if made.status() == manifold3d.Error.NoError else None


def _placed(made: Manifold, axes: tuple[Vector, Vector, Vector], origin: np.ndarray) -> Manifold:
    return made.transform(np.column_stack([*map(np.array, axes), origin]))


def _cut(made: Manifold, halves: tuple[Half, ...]) -> Manifold:
    """What lies in all half-spaces."""
    for h in halves:
        made = made.trim_by_plane(tuple(-c for c in h.n), -h.c)
    return made
