"""The touched stretches of plane faces' strips, as four-sided pieces of their bands."""

from __future__ import annotations

import numpy as np

from recognizer.access.judge import Judge
from recognizer.access.look import Look

Array = np.ndarray


def stretches_of(judge: Judge) -> tuple[Array, Array]:
    """(face of each, corners (n, 4, 3) in the part's own coordinates), in order of faces."""
    s, margin = judge.look.strips, judge.measures.margin
    same = s.strip[1:] == s.strip[:-1]
    k = np.flatnonzero(same & ((margin[1:] >= 0) | (margin[:-1] >= 0)))
    k = k[~judge.scene.pieces.curved[s.piece[s.strip[k]]]]
    one, two = margin[k], margin[k + 1]
    change = np.concatenate([[True], ~same, [True]])
    a, b = np.where(change[k], 0.0, s.share[k]), np.where(change[k + 2], 1.0, s.share[k + 1])
    cross = a + (b - a) * one / np.where(one == two, 1.0, one - two)
    begin, end = np.where(one >= 0, a, cross), np.where(two >= 0, b, cross)
    strip = s.strip[k]
    # Stretches that meet are one.
    start = np.flatnonzero(np.concatenate([[True], (strip[1:] != strip[:-1]) | (begin[1:] > end[:-1] + 1e-12)]))
    start = start[: len(strip)]
    stop = np.append(start[1:], len(strip))[: len(start)] - 1
    return s.face[strip[start]], _quads(strip[start], judge.look, begin[start], end[stop])


def _quads(i: Array, look: Look, begin: Array, end: Array) -> Array:
    s, scene = look.strips, look.scene
    normal = scene.pieces.normal[s.piece[i]]
    way = s.b[i] - s.a[i]
    flat = (normal[:, :2] ** 2).sum(axis=1)
    back = -normal[:, :2] * (normal[:, 2] / np.maximum(flat, 1e-12))[:, None]  # how the face moves as its level rises
    corners = np.empty((len(i), 4, 3))
    for k, (share, side) in enumerate(((begin, 0), (end, 0), (end, 1), (begin, 1))):
        level = s.band[i, side]
        p = s.a[i] + share[:, None] * way + back * (level - s.level[i])[:, None]
        corners[:, k] = scene.back(s.face[i], np.column_stack([p, level]))
    return corners
