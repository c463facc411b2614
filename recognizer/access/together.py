"""A face that no single direction touches whole: what several directions touch together."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from recognizer.access.judge import Judge
from recognizer.access.look import Look
from recognizer.access.shadows import fine_rings
from recognizer.snapshot import plane_axes

Array = np.ndarray


def touched_together(face: int, views: list[tuple[Look, Judge]]) -> float:
    """Share of a face that some direction touches: exact on planes, facet by facet on curved faces (a lower bound)."""
    f = views[0][0].scene.mesh.snapshot.faces[face]
    if f.kind != "plane":
        return _by_pieces(face, views)
    u, v = (np.array(w) for w in plane_axes(f.surface.axis))
    rings = [ring @ np.array([u, v]).T for ring in fine_rings(views[0][0].scene, face)]
    outline = shapely.Polygon(rings[0], rings[1:]).buffer(0)
    parts = [p for look, judge in views for p in _parts(face, look, judge, u, v)]
    if not parts or outline.area <= 0:
        return 0.0
    whole = shapely.union_all(parts, grid_size=1e-4).intersection(outline)
    return float(whole.area / outline.area)


def _parts(face: int, look: Look, judge: Judge, u: Array, v: Array) -> list[BaseGeometry]:
    """What one direction touches of a plane face, in the face's own plane."""
    for floor in look.floors:
        if floor.face == face:
            least = float(judge.shop.smallest_radius(np.array([0.0]))[0])
            region = look.floor_region(floor, least) if np.isfinite(least) else None
            return [_turned(region, look, floor.level, u, v)] if region is not None and not region.is_empty else []
    return _stretches(face, look, judge, np.array([u, v]).T)


def _turned(region: BaseGeometry, look: Look, level: float, u: Array, v: Array) -> BaseGeometry:
    def turn(p: Array) -> Array:
        points = np.column_stack([p, np.full(len(p), level)]) @ look.scene.axes.T
        return points @ np.array([u, v]).T

    return shapely.transform(region, turn)


def _stretches(face: int, look: Look, judge: Judge, axes: Array) -> list[BaseGeometry]:
    """The touched stretches of a face's strips as four-sided pieces of their bands, in the face's own plane."""
    s = look.strips
    margin, share = judge.measures.margin, s.share
    k = np.flatnonzero((s.face[s.strip[:-1]] == face) & (s.strip[1:] == s.strip[:-1]))
    first = np.concatenate([[True], s.strip[1:] != s.strip[:-1]])[k]
    last = np.concatenate([s.strip[1:] != s.strip[:-1], [True]])[k + 1]
    one, two = margin[k], margin[k + 1]
    a, b = np.where(first, 0.0, share[k]), np.where(last, 1.0, share[k + 1])
    with np.errstate(divide="ignore", invalid="ignore"):
        cross = a + (b - a) * one / (one - two)
    begin, end = np.where(one >= 0, a, cross), np.where(two >= 0, b, cross)
    on = (one >= 0) | (two >= 0)
    if not on.any():
        return []
    strip, begin, end = s.strip[k][on], begin[on], end[on]
    # Stretches that meet are one.
    joint = np.concatenate([[False], (strip[1:] == strip[:-1]) & (begin[1:] <= end[:-1] + 1e-12)])
    start = np.flatnonzero(~joint)
    stop = np.append(start[1:], len(joint)) - 1
    return list(_quads(strip[start], look, begin[start], end[stop], axes))


def _quads(i: Array, look: Look, begin: Array, end: Array, axes: Array) -> Array:
    s, scene = look.strips, look.scene
    normal = scene.mesh.pieces.normal[s.piece[i]] @ scene.axes
    way = s.b[i] - s.a[i]
    flat = (normal[:, :2] ** 2).sum(axis=1)
    back = -normal[:, :2] * (normal[:, 2] / np.maximum(flat, 1e-12))[:, None]  # how the face moves as its level rises
    corners = []
    for share, side in ((begin, 0), (end, 0), (end, 1), (begin, 1)):
        level = s.band[i, side]
        p = s.a[i] + share[:, None] * way + back * (level - s.level[i])[:, None]
        corners.append(np.column_stack([p, level]) @ scene.axes.T @ axes)
    return shapely.polygons(np.stack(corners, axis=1))


def _by_pieces(face: int, views: list[tuple[Look, Judge]]) -> float:
    """Each facet by the direction that touches most of it."""
    pieces = views[0][0].scene.mesh.pieces
    own = np.flatnonzero(pieces.face == face)
    best = np.zeros(len(own))
    for look, judge in views:
        s = look.strips
        k = np.flatnonzero(s.face == face)
        got = np.bincount(s.piece[k], s.area[k] * judge.measures.touched[k], len(pieces.face))[own]
        best = np.maximum(best, got)
    total = pieces.area[own].sum()
    return float(best.sum() / total) if total > 0 else 0.0
