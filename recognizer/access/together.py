"""A face that no single direction touches whole: what several directions touch together."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from recognizer.access.judge import FIT_MM, Judge
from recognizer.access.look import Look
from recognizer.access.overhead import fine_rings
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
    s = look.strips
    out = []
    for i in np.flatnonzero(s.face == face).tolist():
        out += _strip_parts(i, look, judge, u, v)
    return out


def _turned(region: BaseGeometry, look: Look, level: float, u: Array, v: Array) -> BaseGeometry:
    def turn(p: Array) -> Array:
        points = np.column_stack([p, np.full(len(p), level)]) @ look.scene.axes.T
        return points @ np.array([u, v]).T

    return shapely.transform(region, turn)


def _strip_parts(i: int, look: Look, judge: Judge, u: Array, v: Array) -> list[BaseGeometry]:
    """The touched stretches of a strip as four-sided pieces of its band."""
    s = look.strips
    nodes = np.flatnonzero(s.strip == i)
    if len(nodes) < 2 or not np.isfinite(judge.least[i]):
        return []
    room = np.where(look.hidden[nodes] >= 0, -1.0, np.minimum(look.fit.radius[nodes], 1e3) - judge.least[i] + FIT_MM)
    share = s.share[nodes].copy()
    share[0], share[-1] = 0.0, 1.0
    out = []
    for k in range(len(nodes) - 1):
        one, two = room[k], room[k + 1]
        if one < 0 and two < 0:
            continue
        a = share[k] if one >= 0 else share[k] + (share[k + 1] - share[k]) * one / (one - two)
        b = share[k + 1] if two >= 0 else share[k] + (share[k + 1] - share[k]) * one / (one - two)
        out.append(_quad(i, look, a, b, u, v))
    return out


def _quad(i: int, look: Look, a: float, b: float, u: Array, v: Array) -> BaseGeometry:
    s, scene = look.strips, look.scene
    normal = scene.mesh.pieces.normal[s.piece[i]] @ scene.axes
    way = s.b[i] - s.a[i]
    flat = np.hypot(normal[0], normal[1])
    back = -normal[:2] * normal[2] / max(flat * flat, 1e-12)  # how the face moves in plan as its level rises
    corners = []
    for share, level in ((a, s.band[i, 0]), (b, s.band[i, 0]), (b, s.band[i, 1]), (a, s.band[i, 1])):
        p = s.a[i] + share * way + back * (level - s.level[i])
        corners.append(np.append(p, level) @ scene.axes.T)
    return shapely.Polygon(np.array(corners) @ np.array([u, v]).T)


def _by_pieces(face: int, views: list[tuple[Look, Judge]]) -> float:
    """Each facet by the direction that touches most of it."""
    pieces = views[0][0].scene.mesh.pieces
    own = np.flatnonzero(pieces.face == face)
    best = np.zeros(len(own))
    for look, judge in views:
        s = look.strips
        k = np.flatnonzero(s.face == face)
        got = np.bincount(s.piece[k], s.area[k] * judge.touched[k], len(pieces.face))[own]
        best = np.maximum(best, got)
    total = pieces.area[own].sum()
    return float(best.sum() / total) if total > 0 else 0.0
