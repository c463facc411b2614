"""Is there material above? Above free space, material begins at a face that turns its back on the direction.

So a point is hidden where the projection of such a face, higher up, covers it.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from recognizer.access.roles import UPRIGHT
from recognizer.access.scene import Scene
from recognizer.access.shadows import Shadows

Array = np.ndarray
FRONT_MM = 0.02
"""A point of a wall is looked at from this far in front of it."""
ABOVE_MM = 0.005


class Overhead(Shadows):
    """The ceilings of all tiles."""

    def __init__(self, scene: Scene) -> None:
        super().__init__(scene, np.flatnonzero(scene.cosine < -UPRIGHT))
        self.face = scene.pieces.face[self.pieces]

    @cached_property
    def _top(self) -> Array:
        """(tiles,) level of the highest ceiling of each tile."""
        out = np.full(self.scene.count, -np.inf)
        np.maximum.at(out, self.face // self.scene.part_faces, self.spans[1])
        return out

    def _below(self, level: Array) -> Array:
        """Which levels have any ceiling above them."""
        if not len(self.pieces) or not len(level):
            return np.empty(0, int)
        return np.flatnonzero(self._top[self.scene.tile_at(level)] >= level + ABOVE_MM)

    def over(self, p: Array, level: Array) -> Array:
        """(n,) face that hides each point, -1 where none does: the highest over it. p: (n, 2)."""
        hidden = np.full(len(p), -1)
        asked = self._below(level)
        if len(asked):
            place, at = _once(p[asked])
            points = p[asked][place]
            least = np.full(len(place), np.inf)
            np.minimum.at(least, at, level[asked])
            k, c = self.boxes.query(shapely.points(points))
            z = self.levels_at(c, points[k])
            high = np.flatnonzero(z > least[k] + ABOVE_MM)
            inside = high[self.inside(c[high], points[k[high]])]
            hidden[asked] = self._highest(at, level[asked], k[inside], c[inside], z[inside])
        return hidden

    def over_lines(self, a: Array, b: Array, level: Array) -> tuple[Array, Array]:
        """(face that hides the whole of each level line a (n, 2) to b, -1 where none does; where nothing is over any of it)."""
        hidden, free = np.full(len(a), -1), np.ones(len(a), bool)
        asked = self._below(level)
        if not len(asked):
            return hidden, free
        place, at = _once(np.concatenate([a, b], axis=1)[asked])
        a, b = a[asked][place], b[asked][place]
        k, c = self.boxes.query(shapely.box(*np.minimum(a, b).T, *np.maximum(a, b).T))
        most = np.full(len(place), -np.inf)
        np.maximum.at(most, k, self.spans[1][c])
        free[asked] = most[at] < level[asked] + ABOVE_MM
        whole = np.flatnonzero(~self.scene.pieces.curved[self.pieces[c]])  # facets are too small
        k, c = k[whole], c[whole]
        lines = shapely.linestrings(np.stack([a[k], b[k]], axis=1))
        covered = np.flatnonzero(shapely.covers(self.polygons[c], lines))
        k, c = k[covered], c[covered]
        z = np.minimum(self.levels_at(c, a[k]), self.levels_at(c, b[k]))
        hidden[asked] = self._highest(at, level[asked], k, c, z)
        return hidden, free

    def _highest(self, at: Array, level: Array, k: Array, c: Array, z: Array) -> Array:
        """(n,) the face of the highest ceiling where it is above the level; k: which place each ceiling c is over."""
        order = np.lexsort((c, -z, k))
        first = order[np.concatenate([[True], np.diff(k[order]) != 0])] if len(k) else order
        top, face = np.full(int(at.max()) + 1, -np.inf), np.full(int(at.max()) + 1, -1)
        top[k[first]], face[k[first]] = z[first], self.face[c[first]]
        return np.where(top[at] > level + ABOVE_MM, face[at], -1)

    def seen_parts(self, polygons: Array, level: Array) -> list[tuple[BaseGeometry, list[int]]]:
        """(what is seen, faces that hide the rest) of flat regions (n,) at levels (n,)."""
        near: dict[int, list[int]] = {}
        whole: dict[int, int] = {}
        asked = self._below(level)
        if len(asked):
            k, c = self.boxes.query(polygons[asked])
            k = asked[k]
            kept = self.spans[1][c] > level[k] + ABOVE_MM
            k, c = k[kept], c[kept]
            # Mostly one wall opposite hides all.
            plane = np.flatnonzero((self.spans[0][c] >= level[k]) & ~self.scene.pieces.curved[self.pieces[c]])
            shapely.prepare(self.polygons[np.unique(c[plane])])
            plane = plane[shapely.covers(self.polygons[c[plane]], polygons[k[plane]])]
            for i, one in zip(k[plane].tolist(), c[plane].tolist(), strict=True):
                whole[i] = min(one, whole.get(i, one))
            for i, one in zip(k.tolist(), c.tolist(), strict=True):
                if i not in whole:
                    near.setdefault(i, []).append(one)
        return [
            (shapely.Polygon(), [int(self.face[whole[i]])])
            if i in whole
            else self._seen_part(p, float(z), np.array(near[i]))
            if i in near
            else (p, [])
            for i, (p, z) in enumerate(zip(polygons, level.tolist(), strict=True))
        ]

    def _seen_part(self, polygon: BaseGeometry, level: float, near: Array) -> tuple[BaseGeometry, list[int]]:
        whole = self.spans[0][near] >= level
        near = np.concatenate([near[whole], near[~whole]])
        leaning = self.cut(near[whole.sum() :], level + ABOVE_MM, polygon.bounds)
        shapes = np.concatenate([self.polygons[near[: whole.sum()]], leaning])
        areas = shapely.area(shapely.intersection(shapes, polygon))
        hiding = [i for i in np.lexsort((near, -np.round(areas, 6))).tolist() if areas[i] > 1e-6]
        if not hiding:
            return polygon, []
        left = polygon.difference(shapely.union_all(shapes[hiding]))
        return left, list(dict.fromkeys(self.face[near[hiding]].tolist()))


def _once(p: Array) -> tuple[Array, Array]:
    """(place in p of each different row, which of these each row is): points over one another are asked once."""
    q = np.round(p * 1e6).astype(np.int64)
    order = np.lexsort(q.T)
    new = np.concatenate([[True], (np.diff(q[order], axis=0) != 0).any(axis=1)])
    at = np.empty(len(p), int)
    at[order] = np.cumsum(new) - 1
    return order[new], at
