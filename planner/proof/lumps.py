"""Intervals of the three bundles gathered into lumps: how much there is of something, how thick, and where.

A layer on a curved or slanted face is long along rays that graze it. Its thickness is the smallest of what the three
bundles say in the same small cube.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.proof.groups import cube_groups
from planner.proof.material import Intervals, Material, Workpiece
from planner.proof.rays import Array

SAMPLES = 64
"""Places along one interval that are looked at, at most."""


@dataclass(frozen=True, eq=False)
class Lump:
    """Material in one place. volume: mm3. thickness: mm, the largest in it. at: (3,) of the thickest place, in the
    frame. face: the part's face that it lies on, -1 for none. group: lumps of one number hang together."""

    volume: float
    thickness: float
    at: Array
    face: int
    group: int = 0


def lumps(piece: Workpiece, parts: list[Intervals], tolerance: float, cube: float) -> list[Lump]:
    """Lumps of `parts` (on each bundle) that are thicker than the tolerance, one for each face, largest first.

    cube: mm, edge of the cubes in which the bundles' answers are compared; some rays apart.
    """
    samples = [_sampled(m, p, cube) for m, p in zip(piece, parts, strict=True)]
    points = np.vstack([s[0] for s in samples])
    if not len(points):
        return []
    size = np.concatenate([s[1] for s in samples])
    weight = np.concatenate([s[2] for s in samples])
    face = np.concatenate([s[3] for s in samples])
    share = np.concatenate([s[4] for s in samples])
    axis = np.repeat(np.arange(3), [len(s[0]) for s in samples])
    x, y, z = np.floor((points - points.min(axis=0)) / cube).astype(np.int64).T
    _, first, cell = np.unique((x * (y.max() + 1) + y) * (z.max() + 1) + z, return_index=True, return_inverse=True)
    cell = cell.reshape(-1)
    count = int(cell.max()) + 1
    longest, rays = np.zeros((3, count)), np.zeros((3, count))
    np.maximum.at(longest, (axis, cell), size)
    np.add.at(rays, (axis, cell), share)
    thick = np.where(longest > 0, longest, np.inf).min(axis=0)
    # A ray that grazes a curved wall runs far through a skin of next to nothing: one bundle alone is believed only
    # where rays stand as close as through a solid layer.
    believed = ((longest > 0).sum(axis=0) >= 2) | (rays.max(axis=0) >= CLOSE * cube**2 / piece[0].pieces.bundle.cell)
    # A layer is as thick as the rays across it say: the rows of the others may just miss or meet its two sides.
    across = np.where(longest > 0, longest, np.inf).argmin(axis=0)
    weight = weight * np.where(thick[cell] < cube, 3.0 * (axis == across[cell]), 1.0)
    solid = (thick > tolerance) & believed
    group = np.full(count, -1)
    group[solid] = cube_groups(np.column_stack([x, y, z])[first[solid]] + 1)
    keep = solid[cell]
    if not keep.any():
        return []
    face, group = _faced(face[keep], cell[keep], group[cell][keep], weight[keep]), group[cell][keep]
    found = _by_face(points[keep], np.minimum(thick[cell], size)[keep], weight[keep], face, group)
    return [lump for lump in found if lump.thickness > tolerance]


CLOSE = 0.6
"""Share of a bundle's rays through a cube that must meet a lump which no other bundle meets there."""


def _sampled(material: Material, part: Intervals, cube: float) -> tuple[Array, Array, Array, Array, Array]:
    """Points along intervals: (points (k, 3), how far it is square to a face across the interval, mm3 that a point stands for, face it touches,
    share of a ray through one cube that it stands for).
    """
    pieces, bundle = material.pieces, material.pieces.bundle
    count = np.clip(np.ceil(part.length / (0.5 * cube)).astype(int), 1, SAMPLES)
    which = np.repeat(np.arange(len(part.ray)), count)
    place = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    at = part.low[which] + part.length[which] * (place + 0.5) / count[which]
    own = part.piece[which]
    at_low = np.abs(part.low[which] - pieces.low[own]) < 1e-6
    at_high = np.abs(part.high[which] - pieces.high[own]) < 1e-6
    face = np.where(at_low & (pieces.face_low[own] >= 0), pieces.face_low[own], -1)
    face = np.where(at_high & (pieces.face_high[own] >= 0), pieces.face_high[own], face)
    # Along a ray that meets a face aslant, a layer on it is not as thick as the ray runs in it.
    aslant = np.where(at_low & (pieces.face_low[own] >= 0), pieces.square_low[own], 1.0)
    aslant = np.minimum(aslant, np.where(at_high & (pieces.face_high[own] >= 0), pieces.square_high[own], 1.0))
    each = part.length[which] / count[which]
    crossed = np.where(part.length[which] > cube, each / cube, 1.0 / count[which])
    return bundle.points(part.ray[which], at), part.length[which] * aslant, bundle.cell * each / 3.0, face, crossed


def _faced(face: Array, cell: Array, group: Array, weight: Array) -> Array:
    """Faces of points, where those that touch none have the face that most of their cube lies on, else most of their group."""
    for place in (cell, group):
        face = np.where(face >= 0, face, _most(place, face, weight))
    return face


def _most(place: Array, face: Array, weight: Array) -> Array:
    """(k,) the face that most of each point's place lies on, -1 where none does."""
    there = face >= 0
    pairs, which = np.unique(np.stack([place[there], face[there]]), axis=1, return_inverse=True)
    if not pairs.size:
        return np.full(len(face), -1)
    heavy = np.bincount(which.reshape(-1), weight[there])
    order = np.lexsort((-pairs[1], heavy, pairs[0]))
    last = np.concatenate([np.diff(pairs[0][order]) != 0, [True]])
    places, faces = pairs[0][order][last], pairs[1][order][last]
    at = np.minimum(np.searchsorted(places, place), len(places) - 1)
    return np.where(places[at] == place, faces[at], -1)


def _by_face(points: Array, thick: Array, weight: Array, face: Array, group: Array) -> list[Lump]:
    """One lump for each face; what lies on none is a lump of its own."""
    out = []
    key = face * (int(group.max()) + 2) + np.where(face < 0, group, -1)
    order = np.argsort(key, kind="stable")
    for own in np.split(order, np.flatnonzero(np.diff(key[order])) + 1):
        worst = own[np.argmax(thick[own])]
        lump = Lump(float(weight[own].sum()), float(thick[worst]), points[worst], int(face[worst]), int(group[worst]))
        # What only rays along a layer find on a face beside it is counted by the rays across.
        if lump.volume > 0.0:
            out.append(lump)
    return sorted(out, key=lambda lump: -lump.volume)
