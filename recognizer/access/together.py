"""A face that no single direction touches whole: what several directions touch together."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from recognizer.access.floors import Floor, touched_region
from recognizer.access.judge import Judge
from recognizer.access.look import Look
from recognizer.access.stretches import stretches_of
from recognizer.snapshot import plane_axes

Array = np.ndarray
View = tuple[Judge, int]
"""A judge, and the name that a face has in one of its tiles."""
SAME_MM = 1e-4
"""Coordinates closer than this are one."""


class Together:
    """Asked face by face; what its directions have in common is made once."""

    def __init__(self) -> None:
        self._quads: dict[Judge, tuple[Array, Array]] = {}

    def touched(self, views: list[View]) -> float:
        """Share of a face that some direction touches: exact on planes, facet by facet on curved faces (a lower bound)."""
        judge, name = views[0]
        f = judge.scene.face(name)
        if f.kind != "plane":
            return _by_pieces(views)
        axes = np.array(plane_axes(f.surface.axis)).T
        rings = [ring @ axes for ring in judge.scene.mesh.rings.of_face(f.index)]
        floors = [(judge, floor) for judge, name in views if (floor := judge.look.floor_by_face.get(name)) is not None]
        quads = np.concatenate([self._of(judge, name) for judge, name in views]) @ axes
        if len(rings) == 1 and not floors and (share := _of_boxes(rings[0], quads)) is not None:
            return share
        outline = shapely.Polygon(rings[0], rings[1:]).buffer(0)
        regions = [part for judge, floor in floors for part in _region(judge, floor, axes)]
        parts = [*shapely.polygons(quads), *regions]
        if not parts or outline.area <= 0:
            return 0.0
        return float(_union(parts).intersection(outline).area / outline.area)

    def _of(self, judge: Judge, name: int) -> Array:
        """(n, 4, 3) what is touched of the strips of a face, in the part's own coordinates."""
        if judge not in self._quads:
            self._quads[judge] = stretches_of(judge)
        face, corners = self._quads[judge]
        first, last = np.searchsorted(face, [name, name + 1])
        return corners[first:last]


def _union(parts: list[BaseGeometry]) -> BaseGeometry:
    """All of them; on a grid only where the geometry library fails without: it takes three times as long."""
    try:
        return shapely.union_all(parts)
    except shapely.errors.GEOSException:
        return shapely.union_all(parts, grid_size=SAME_MM)


def _of_boxes(ring: Array, quads: Array) -> float | None:
    """Share of a rectangle that rectangles along its sides cover; None where they, or it, are none."""
    if len(ring) != 4 or not len(quads):
        return None
    way = ring[1] - ring[0]
    turn = np.array([[way[0], -way[1]], [way[1], way[0]]]) / max(float(np.hypot(*way)), 1e-12)
    shapes = np.concatenate([ring[None], quads]) @ turn
    low, high = shapes.min(axis=1), shapes.max(axis=1)
    # Of a rectangle every corner lies on two sides of its box.
    off = np.minimum(np.abs(shapes - low[:, None]), np.abs(shapes - high[:, None])).max()
    crossed = np.abs(shapes[:, 0] - shapes[:, 2]) - (high - low)
    if off > SAME_MM or np.abs(crossed).max() > SAME_MM:
        return None
    low, high = np.clip(low, low[0], high[0]), np.clip(high, low[0], high[0])
    (x, left, right), (y, bottom, top) = (_places(low[:, k], high[:, k]) for k in (0, 1))
    full = np.zeros((len(x), len(y)), int)
    for i, j, sign in ((left, bottom, 1), (right, bottom, -1), (left, top, -1), (right, top, 1)):
        np.add.at(full, (i[1:], j[1:]), sign)
    filled = full.cumsum(axis=0).cumsum(axis=1)[:-1, :-1] > 0
    size = (high - low)[0]
    return float((filled * np.diff(x)[:, None] * np.diff(y)).sum() / (size[0] * size[1])) if size.min() > 0 else None


def _places(low: Array, high: Array) -> tuple[Array, Array, Array]:
    """(coordinates in order, each once; the place of each low among them; of each high)."""
    x, at = np.unique(np.round(np.concatenate([low, high]) / SAME_MM), return_inverse=True)
    return x * SAME_MM, at[: len(low)], at[len(low) :]


def _region(judge: Judge, floor: Floor, axes: Array) -> list[BaseGeometry]:
    """What one direction touches of a floor, in the face's own plane."""
    least = float(judge.shop.smallest_radius(np.array([0.0]))[0])
    region = touched_region(floor, judge.look.material, least) if np.isfinite(least) else None
    return [_turned(region, floor, judge.look, axes)] if region is not None and not region.is_empty else []


def _turned(region: BaseGeometry, floor: Floor, look: Look, axes: Array) -> BaseGeometry:
    def turn(p: Array) -> Array:
        face = np.full(len(p), floor.face)
        return look.scene.back(face, np.column_stack([p, np.full(len(p), floor.level)])) @ axes

    return shapely.transform(region, turn)


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
