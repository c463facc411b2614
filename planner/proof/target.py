"""Where rays enter and leave the part: its triangles crossed by a bundle, and the stock cut up there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.proof.material import Intervals, Material, Pieces
from planner.proof.rays import Array, Bundle, Rows, spread

FLAT = 1e-9
"""Mm2: a patch whose image across the rays is smaller is seen edge-on."""
PLANE = 7
"""Decimals to which triangles of one patch agree in normal and distance."""


@dataclass(frozen=True)
class Patches:
    """Triangles of one face that lie in one plane, taken together.

    points: (p, 3) one on each; normals: (p, 3); areas: (p,) mm2; faces: (p,). ends: (k, 2, 3) of the edges round them,
    and owner: (k,) the patch of each.
    """

    points: Array
    normals: Array
    areas: Array
    faces: Array
    ends: Array
    owner: Array


def patches_of(corners: Array, index: Array, faces: Array) -> Patches:
    """The patches of triangles. corners: (m, 3, 3) in the part's own frame; index: (m, 3) numbers of these points; faces:
    (m,) of each.
    """
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    twice = np.linalg.norm(cross, axis=1)
    normals = cross / np.where(twice > 0, twice, 1.0)[:, None]
    planes = np.column_stack([normals, (normals * corners[:, 0]).sum(axis=1)])
    key = np.column_stack([np.round(planes, PLANE), faces])
    order = np.lexsort((-twice, *key.T))  # the largest first: its plane stands for all
    new = np.ones(len(order), dtype=bool)
    new[1:] = (key[order][1:] != key[order][:-1]).any(axis=1)
    patch = np.empty(len(order), dtype=np.int64)
    patch[order] = np.cumsum(new) - 1
    first = order[new]
    area = 0.5 * np.bincount(patch, weights=twice, minlength=len(first))
    ends = np.stack([corners, np.roll(corners, -1, axis=1)], axis=2).reshape(-1, 2, 3)
    owner = np.repeat(patch, 3)
    rim = ~_met_twice(np.stack([index, np.roll(index, -1, axis=1)], axis=2).reshape(-1, 2), owner)
    return Patches(corners[first, 0], normals[first], area, faces[first], ends[rim], owner[rim])


def _met_twice(index: Array, owner: Array) -> Array:
    """Whether an edge lies between two triangles of one patch. index: (k, 2) numbers of its ends."""
    low, high = index.min(axis=1).astype(np.int64), index.max(axis=1).astype(np.int64)
    count = int(high.max()) + 1 if len(high) else 1
    key = (owner * count + low) * count + high
    order = np.argsort(key, kind="stable")
    same = key[order][1:] == key[order][:-1]
    twice = np.zeros(len(order), dtype=bool)
    twice[order[1:][same]] = True
    twice[order[:-1][same]] = True
    return twice


def stock_on(bundle: Bundle, patches: Patches, low: Array, high: Array) -> Material:
    """The stock (a box) on a bundle, cut up where rays enter and leave the part. All in the part's own frame."""
    ray, at, climb, face = _crossings(bundle, patches)
    way = np.where(climb < 0, 1, -1)
    order = np.lexsort((way, at, ray))
    ray, at, way, face, climb = ray[order], at[order], way[order], face[order], climb[order]
    depth = np.cumsum(way)
    balance = np.bincount(ray, weights=way, minlength=bundle.count)
    wrong = np.zeros(bundle.count, dtype=bool)
    wrong[np.flatnonzero(balance != 0)] = True
    start = np.concatenate([[0], depth[:-1]])
    first = np.concatenate([[True], ray[1:] != ray[:-1]]) if len(ray) else np.empty(0, dtype=bool)
    if wrong.any():  # count depth anew from each ray's first crossing
        base = np.repeat(start[first], np.diff(np.concatenate([np.flatnonzero(first), [len(ray)]])))
        depth, start = depth - base, start - base
    wrong[ray[(depth < 0) | (depth > 1)]] = True
    keep = ~wrong[ray]
    ray, at, face, climb = ray[keep], at[keep], face[keep], climb[keep]
    good = np.flatnonzero(~wrong)
    return _pieces(bundle, good, ray, at, face, climb, float(low[bundle.axis]), float(high[bundle.axis]), wrong)


def _pieces(
    bundle: Bundle, good: Array, ray: Array, at: Array, face: Array, climb: Array, low: float, high: float, bad: Array
) -> Material:
    """Pieces from one crossing to the next, from the stock's lower end to its upper one."""
    n, place = len(good), np.searchsorted(good, ray)
    start, end = np.searchsorted(ray, good, side="left"), np.searchsorted(ray, good, side="right")
    number, spot = np.arange(n), np.arange(len(ray)) + 2 * place + 1
    first, last = start + 2 * number, end + 2 * number + 1
    rays, own = np.empty(len(ray) + 2 * n, dtype=np.int64), np.zeros(len(ray) + 2 * n, dtype=bool)
    ats, faces = np.empty(len(rays)), np.full(len(rays), -1)
    rays[first], rays[spot], rays[last] = good, ray, good
    ats[first], ats[spot], ats[last] = low, np.clip(at, low, high), high
    own[spot], faces[spot] = climb < 0, face
    square = np.ones(len(rays))
    square[spot] = np.abs(climb)
    real = (rays[1:] == rays[:-1]) & (ats[1:] > ats[:-1] + 1e-7)
    p_low, p_high = ats[:-1][real], ats[1:][real]
    ends = (faces[:-1][real], faces[1:][real], square[:-1][real], square[1:][real])
    pieces = Pieces(bundle, p_low, p_high, own[:-1][real], *ends, bad)
    return Material(pieces, Intervals(rays[:-1][real], p_low, p_high, np.arange(len(p_low))))


def _crossings(bundle: Bundle, patches: Patches) -> tuple[Array, Array, Array, Array]:
    """(ray, coordinate along it, cosine between it and the face's outward normal, face) of every crossing."""
    a, b, c = bundle.axis, (bundle.axis + 1) % 3, (bundle.axis + 2) % 3
    climb = patches.normals[:, a]
    seen = np.abs(climb) * patches.areas > FLAT
    safe = np.where(seen, climb, 1.0)
    by_u, by_v = -patches.normals[:, b] / safe, -patches.normals[:, c] / safe
    own = seen[patches.owner]
    ends, owner = patches.ends[own][:, :, [b, c]], patches.owner[own]
    # Each patch is met by the rows that fewer of its edges cross.
    spans = np.abs(ends[:, 1] - ends[:, 0]).T
    upright = np.bincount(owner, spans[1], len(climb)) > np.bincount(owner, spans[0], len(climb))
    ray, which = (
        np.concatenate(x)
        for x in zip(
            _rays_in(bundle.by_v, ends, owner, ~upright[owner]),
            _rays_in(bundle.by_u, ends[:, :, ::-1], owner, upright[owner]),
            strict=True,
        )
    )
    start = patches.points[which]
    at = start[:, a] + by_u[which] * (bundle.u[ray] - start[:, b]) + by_v[which] * (bundle.v[ray] - start[:, c])
    return ray, at, climb[which], patches.faces[which]


def _rays_in(rows: Rows, ends: Array, owner: Array, chosen: Array) -> tuple[Array, Array]:
    """(ray, patch) of every ray through chosen patches. ends: (k, 2, 2) of their edges, along and across the rows.

    Each edge is reckoned from its lower end, so that two patches find the very same place on the edge they share.
    """
    ends, owner, levels = ends[chosen], owner[chosen], rows.levels
    (u1, v1), (u2, v2) = ends[:, 0].T, ends[:, 1].T
    swap = (v2 < v1) | ((v2 == v1) & (u2 < u1))
    u1, u2 = np.where(swap, u2, u1), np.where(swap, u1, u2)
    v1, v2 = np.where(swap, v2, v1), np.where(swap, v1, v2)
    edge, row = spread(np.searchsorted(levels, v1, side="right"), np.searchsorted(levels, v2, side="right"))
    slope = (u2 - u1) / np.where(v2 > v1, v2 - v1, 1.0)
    at = u1[edge] + slope[edge] * (levels[row] - v1[edge])
    order = np.lexsort((at, owner[edge] * len(levels) + row))
    row, which, at = row[order], owner[edge][order], at[order]
    ray, query = rows.between(row[0::2], at[0::2], at[1::2])
    return ray, which[0::2][query]
