"""A face that no single direction touches whole: what several directions touch together."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from recognizer.access.floors import Floor, touched_region
from recognizer.access.judge import Judge
from recognizer.access.look import Look
from recognizer.snapshot import plane_axes

Array = np.ndarray
View = tuple[Judge, int]
"""A judge, and the name that a face has in one of its tiles."""


def touched_together(views: list[View]) -> float:
    """Share of a face that some direction touches: exact on planes, facet by facet on curved faces (a lower bound)."""
    judge, name = views[0]
    f = judge.scene.face(name)
    if f.kind != "plane":
        return _by_pieces(views)
    axes = np.array(plane_axes(f.surface.axis)).T
    rings = [ring @ axes for ring in judge.scene.mesh.rings.of_face(f.index)]
    outline = shapely.Polygon(rings[0], rings[1:]).buffer(0)
    parts = [p for judge, name in views for p in _parts(name, judge, axes)]
    if not parts or outline.area <= 0:
        return 0.0
    whole = shapely.union_all(parts, grid_size=1e-4).intersection(outline)
    return float(whole.area / outline.area)


def _parts(name: int, judge: Judge, axes: Array) -> list[BaseGeometry]:
    """What one direction touches of a plane face, in the face's own plane."""
    look = judge.look
    for floor in look.floors:
        if floor.face == name:
            least = float(judge.shop.smallest_radius(np.array([0.0]))[0])
            region = touched_region(floor, look.material, least) if np.isfinite(least) else None
            return [_turned(region, floor, look, axes)] if region is not None and not region.is_empty else []
    return _stretches(name, judge, axes)


def _turned(region: BaseGeometry, floor: Floor, look: Look, axes: Array) -> BaseGeometry:
    def turn(p: Array) -> Array:
        face = np.full(len(p), floor.face)
        return look.scene.back(face, np.column_stack([p, np.full(len(p), floor.level)])) @ axes

    return shapely.transform(region, turn)


def _stretches(name: int, judge: Judge, axes: Array) -> list[BaseGeometry]:
    """The touched stretches of a face's strips as four-sided pieces of their bands, in the face's own plane."""
    look = judge.look
    s = look.strips
    margin, share = judge.measures.margin, s.share
    own = look.nodes_of(name)
    strip = s.strip[own]
    change = np.concatenate([[True], strip[1:] != strip[:-1], [True]])
    k = np.flatnonzero(~change[1:-1])
    first, last = change[k], change[k + 2]
    k = own.start + k
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
    normal = scene.pieces.normal[s.piece[i]]
    way = s.b[i] - s.a[i]
    flat = (normal[:, :2] ** 2).sum(axis=1)
    back = -normal[:, :2] * (normal[:, 2] / np.maximum(flat, 1e-12))[:, None]  # how the face moves as its level rises
    corners = []
    for share, side in ((begin, 0), (end, 0), (end, 1), (begin, 1)):
        level = s.band[i, side]
        p = s.a[i] + share[:, None] * way + back * (level - s.level[i])[:, None]
        corners.append(scene.back(s.face[i], np.column_stack([p, level])) @ axes)
    return shapely.polygons(np.stack(corners, axis=1))


def _by_pieces(views: list[View]) -> float:
    """Each facet by the direction that touches most of it."""
    scene = views[0][0].scene
    pieces = scene.mesh.pieces
    face = views[0][1] % scene.part_faces
    own = np.searchsorted(pieces.face[pieces.curved], [face, face + 1]) + int((~pieces.curved).sum())
    best = np.zeros(own[1] - own[0])
    for judge, name in views:
        s = judge.look.strips
        k = judge.look.strips_of(name)
        first = judge.scene.tile(name) * len(pieces.face) + own[0]
        got = np.bincount(s.piece[k] - first, s.area[k] * judge.measures.touched[k], len(best))
        best = np.maximum(best, got)
    total = pieces.area[own[0] : own[1]].sum()
    return float(best.sum() / total) if total > 0 else 0.0
