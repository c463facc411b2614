"""Columns over or under a triangulated face: many triangles cut at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from shared.units import Vector

TINY = 1e-9
"""Mm."""


@dataclass
class Field:
    """Columns along d between triangles and a level.

    triangles: (n, 3, 2), coordinates along u and v. base: (n, 3), levels of their corners along d. above: the columns
    rise from the triangles to the level, else they stand on the level under the triangles.
    """

    d: Vector
    u: Vector
    v: Vector
    triangles: np.ndarray
    base: np.ndarray
    level: float
    above: bool

    @cached_property
    def bounds(self) -> np.ndarray:
        """(2, 3): lowest and highest coordinates."""
        flat = self.triangles.reshape(-1, 2) @ np.array([self.u, self.v])
        levels = (float(self.base.min()), float(self.base.max()), self.level)
        ends = np.sort(np.outer([min(levels), max(levels)], self.d), axis=0)
        return np.array([flat.min(axis=0) + ends[0], flat.max(axis=0) + ends[1]])

    @property
    def around(self) -> np.ndarray:
        """See `Solid`."""
        return self.bounds

    @cached_property
    def volume(self) -> float | None:
        """Exact for the triangles: area times mean height."""
        rise = self.level - self.base.mean(axis=1)
        return float((shapely.area(self._shapes) * (rise if self.above else -rise)).sum())

    @cached_property
    def _shapes(self) -> np.ndarray:
        return shapely.polygons(self.triangles)

    def contains(self, p: np.ndarray, margin: float) -> np.ndarray:
        """(n,) True for points (n, 3) deeper than `margin` below the surface and the level."""
        points = shapely.points(p @ np.array(self.u), p @ np.array(self.v))
        found = np.zeros(len(p), dtype=bool)
        which, t = shapely.STRtree(self._shapes).query(points, predicate="intersects")
        if not len(which):
            return found
        q = np.concatenate([self.triangles, np.ones((*self.base.shape, 1))], axis=2)
        planes = np.linalg.solve(q, self.base[:, :, None])[:, :, 0]
        x = np.column_stack([shapely.get_x(points[which]), shapely.get_y(points[which]), np.ones(len(which))])
        base = (x * planes[t]).sum(axis=1)
        level = p[which] @ np.array(self.d)
        low, high = (base, self.level) if self.above else (self.level, base)
        found[which[(level > low + margin) & (level < high - margin)]] = True
        return found

    def samples(self) -> np.ndarray:
        """(n, 3) points half way up the column of each triangle."""
        q = self.triangles.mean(axis=1)
        level = (self.base.mean(axis=1) + self.level) / 2
        return q @ np.array([self.u, self.v]) + np.outer(level, self.d)
