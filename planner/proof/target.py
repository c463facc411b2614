"""Where rays enter and leave the part: its triangles crossed by a bundle, and the stock cut up there."""

from __future__ import annotations

import numpy as np

from planner.proof.material import Intervals, Material, Pieces
from planner.proof.rays import Array, Bundle, spread

FLAT = 1e-9
"""Mm2: a triangle whose image across the rays is smaller is seen edge-on."""


def stock_on(bundle: Bundle, corners: Array, faces: Array, low: Array, high: Array) -> Material:
    """The stock (a box) on a bundle, cut up where rays enter and leave the part.

    corners: (m, 3, 3) of the part's triangles in the part's own frame, faces: (m,) of each.
    """
    ray, at, way, face = _crossings(bundle, corners, faces)
    order = np.lexsort((way, at, ray))
    ray, at, way, face = ray[order], at[order], way[order], face[order]
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
    ray, at, face, enters = ray[keep], at[keep], face[keep], (way[keep] > 0)
    good = np.flatnonzero(~wrong)
    return _pieces(bundle, good, ray, at, face, enters, float(low[bundle.axis]), float(high[bundle.axis]), wrong)


def _pieces(
    bundle: Bundle, good: Array, ray: Array, at: Array, face: Array, enters: Array, low: float, high: float, bad: Array
) -> Material:
    """Pieces from one crossing to the next, from the stock's lower end to its upper one."""
    n = len(good)
    rays = np.concatenate([good, ray, good])
    ats = np.concatenate([np.full(n, low), at, np.full(n, high)])
    own = np.concatenate([np.zeros(n, dtype=bool), enters, np.zeros(n, dtype=bool)])
    faces = np.concatenate([np.full(n, -1), face, np.full(n, -1)])
    kind = np.concatenate([np.zeros(n, np.int8), np.where(enters, 1, 2).astype(np.int8), np.full(n, 3, np.int8)])
    order = np.lexsort((kind, np.clip(ats, low, high), rays))
    rays, ats, own, faces = rays[order], np.clip(ats[order], low, high), own[order], faces[order]
    real = (rays[1:] == rays[:-1]) & (ats[1:] > ats[:-1] + 1e-7)
    p_low, p_high = ats[:-1][real], ats[1:][real]
    pieces = Pieces(bundle, p_low, p_high, own[:-1][real], faces[:-1][real], faces[1:][real], bad)
    return Material(pieces, Intervals(rays[:-1][real], p_low, p_high, np.arange(len(p_low))))


def _crossings(bundle: Bundle, corners: Array, faces: Array) -> tuple[Array, Array, Array, Array]:
    """(ray, coordinate along it, +1 where it enters and -1 where it leaves, face) of every crossing."""
    a, b, c = bundle.axis, (bundle.axis + 1) % 3, (bundle.axis + 2) % 3
    u, v, w = corners[:, :, b], corners[:, :, c], corners[:, :, a]
    twice = (u[:, 1] - u[:, 0]) * (v[:, 2] - v[:, 0]) - (u[:, 2] - u[:, 0]) * (v[:, 1] - v[:, 0])
    seen = np.abs(twice) > FLAT
    u, v, w, twice, faces = u[seen], v[seen], w[seen], twice[seen], faces[seen]
    rows = bundle.by_v
    start = np.searchsorted(rows.levels, v.min(axis=1))
    end = np.searchsorted(rows.levels, v.max(axis=1))
    which, row = spread(start, end)
    low, high = _chord(u[which], v[which], rows.levels[row])
    ray, query = rows.between(row, low, high)
    which = which[query]
    du, dv = bundle.u[ray] - u[which, 0], bundle.v[ray] - v[which, 0]
    s = (du * (v[which, 2] - v[which, 0]) - dv * (u[which, 2] - u[which, 0])) / twice[which]
    t = (dv * (u[which, 1] - u[which, 0]) - du * (v[which, 1] - v[which, 0])) / twice[which]
    at = w[which, 0] + s * (w[which, 1] - w[which, 0]) + t * (w[which, 2] - w[which, 0])
    return ray, at, np.where(twice[which] < 0, 1, -1), faces[which]


def _chord(u: Array, v: Array, level: Array) -> tuple[Array, Array]:
    """Where a row at `level` passes through triangles: ends of the chord, (k,) each.

    Each edge is reckoned from its lower end, so that two triangles find the very same place on the edge they share.
    """
    low, high = np.full(len(level), np.inf), np.full(len(level), -np.inf)
    for i, j in ((0, 1), (1, 2), (2, 0)):
        u1, v1, u2, v2 = u[:, i], v[:, i], u[:, j], v[:, j]
        swap = (v2 < v1) | ((v2 == v1) & (u2 < u1))
        u1, u2 = np.where(swap, u2, u1), np.where(swap, u1, u2)
        v1, v2 = np.where(swap, v2, v1), np.where(swap, v1, v2)
        crosses = (v1 < level) & (level <= v2)
        with np.errstate(divide="ignore", invalid="ignore"):
            at = u1 + (u2 - u1) * ((level - v1) / (v2 - v1))
        low = np.where(crosses & (at < low), at, low)
        high = np.where(crosses & (at > high), at, high)
    return low, high
