"""Is there material above? Above free space, material begins at a face that turns its back on the direction.

So a point is hidden where the projection of such a face, higher up, covers it.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from recognizer.access.scene import UPRIGHT, Scene
from recognizer.access.shadows import Shadows

Array = np.ndarray
FRONT_MM = 0.02
"""A point of a wall is looked at from this far in front of it."""
ABOVE_MM = 0.005
FEW = 8
"""So few ceilings are asked one by one."""


class Overhead(Shadows):
    """The ceilings of one direction."""

    def __init__(self, scene: Scene) -> None:
        super().__init__(scene, np.flatnonzero(scene.cosine < -UPRIGHT))
        self.face = scene.mesh.pieces.face[self.pieces]

    def _none_above(self, level: Array) -> bool:
        return not len(self.pieces) or not len(level) or bool(self.spans[1].max() < level.min() + ABOVE_MM)

    def over(self, p: Array, level: Array) -> Array:
        """(n,) face that hides each point, -1 where none does: the highest over it. p: (n, 2)."""
        hidden = np.full(len(p), -1)
        if self._none_above(level):
            return hidden
        place, at = _once(p)
        k, c = self._pairs(p[place], level)
        return self._highest(hidden, at, level, k, c, self.levels_at(c, p[place[k]]))

    def _pairs(self, p: Array, level: Array) -> tuple[Array, Array]:
        high = np.flatnonzero(self.spans[1] > level.min() + ABOVE_MM)
        if len(high) <= FEW:
            found = [(np.flatnonzero(shapely.intersects_xy(self.polygons[c], p[:, 0], p[:, 1])), c) for c in high]
            k = np.concatenate([f for f, _ in found])
            return k, np.repeat([c for _, c in found], [len(f) for f, _ in found])
        k, c = self.tree.query(shapely.points(p), predicate="intersects")
        return k, c

    def over_lines(self, a: Array, b: Array, level: Array) -> Array:
        """(n,) face that hides the whole of each level line a (n, 2) to b, where one does; -1 elsewhere."""
        hidden = np.full(len(a), -1)
        if self._none_above(level):
            return hidden
        place, at = _once(np.concatenate([a, b], axis=1))
        a, b = a[place], b[place]
        k, c = self.tree.query(shapely.linestrings(np.stack([a, b], axis=1)), predicate="covered_by")
        return self._highest(hidden, at, level, k, c, np.minimum(self.levels_at(c, a[k]), self.levels_at(c, b[k])))

    def _highest(self, hidden: Array, at: Array, level: Array, k: Array, c: Array, z: Array) -> Array:
        """Sets the face of the highest ceiling where it is above the level; k: which place each ceiling is over."""
        if not len(k):
            return hidden
        order = np.lexsort((c, -z, k))
        first = order[np.concatenate([[True], np.diff(k[order]) != 0])]
        top, face = np.full(int(at.max()) + 1, -np.inf), np.full(int(at.max()) + 1, -1)
        top[k[first]], face[k[first]] = z[first], self.face[c[first]]
        return np.where(top[at] > level + ABOVE_MM, face[at], hidden)

    def seen_part(self, polygon: BaseGeometry, level: float) -> tuple[BaseGeometry, list[int]]:
        """(what is seen of a flat region at a level, faces that hide the rest)."""
        if not len(self.pieces):
            return polygon, []
        level += ABOVE_MM
        low, high = self.spans
        near = self.tree.query(polygon)
        near = near[high[near] > level]
        if not len(near):
            return polygon, []
        whole = low[near] >= level - ABOVE_MM
        near = np.concatenate([near[whole], near[~whole]])
        shapes = np.concatenate(
            [self.polygons[near[: whole.sum()]], self.cut(near[whole.sum() :], level, polygon.bounds)]
        )
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
