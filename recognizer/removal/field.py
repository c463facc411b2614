"""Columns over or under a triangulated face: many triangles cut at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from recognizer.removal.solids import ACROSS, FLAT, NOTHING
from shared.units import Vector


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

    @cached_property
    def volume(self) -> float | None:
        """Exact for the triangles: area times mean height."""
        rise = self.level - self.base.mean(axis=1)
        return float((shapely.area(self._shapes) * (rise if self.above else -rise)).sum())

    @cached_property
    def _shapes(self) -> np.ndarray:
        return shapely.polygons(self.triangles)

    def constant(self, k: int) -> bool:
        """Never."""
        return False

    def critical(self, k: int) -> list[float]:
        """Ends along axis k, and the surface's own ends along d."""
        out = [float(self.bounds[0][k]), float(self.bounds[1][k])]
        if abs(self.d[k]) > 1 - FLAT:
            out += [float(b) * self.d[k] for b in (self.base.min(), self.base.max())]
        return out

    def section(self, k: int, z: float) -> BaseGeometry:
        """Cut by the plane at z along axis k; d must run along or across it."""
        if not self.bounds[0][k] < z < self.bounds[1][k]:
            return NOTHING
        return self._across(k, z) if abs(self.d[k]) > 0.5 else self._lengthwise(k, z)

    def _across(self, k: int, z: float) -> BaseGeometry:
        i, j = ACROSS[k]
        level = z * self.d[k]
        depth = (level - self.base) if self.above else (self.base - level)
        whole, none = (depth >= 0).all(axis=1), (depth <= 0).all(axis=1)
        pieces = [self._joined(np.asarray(whole))] if whole.any() else []
        for t, h in zip(self.triangles[~whole & ~none], depth[~whole & ~none], strict=True):
            pieces.append(shapely.Polygon(_kept(t, h)))
        if not pieces:
            return NOTHING
        out = shapely.union_all(pieces)
        u, v = self.u, self.v
        return affine_transform(out, [u[i], v[i], u[j], v[j], 0.0, 0.0])

    @cached_property
    def _kept_unions(self) -> dict[bytes, BaseGeometry]:
        return {}

    def _joined(self, whole: np.ndarray) -> BaseGeometry:
        """Union of some of the triangles; neighbouring levels often ask for the same ones."""
        key = whole.tobytes()
        if key not in self._kept_unions:
            self._kept_unions[key] = shapely.union_all(self._shapes[whole])
        return self._kept_unions[key]

    def _lengthwise(self, k: int, z: float) -> BaseGeometry:
        """A trapezoid for each triangle that the plane crosses."""
        i, j = ACROSS[k]
        at = self.triangles @ np.array([self.u[k], self.v[k]]) - z
        crossed = (at.min(axis=1) < 0) & (at.max(axis=1) > 0)
        quads = []
        for t, b, s in zip(self.triangles[crossed], self.base[crossed], at[crossed], strict=True):
            ends = [
                (t[m] + (t[n] - t[m]) * (w := s[m] / (s[m] - s[n])), b[m] + (b[n] - b[m]) * w)
                for m, n in ((0, 1), (1, 2), (2, 0))
                if s[m] * s[n] < 0
            ] + [(t[m], b[m]) for m in range(3) if s[m] == 0]
            if len(ends) == 2:
                quads.append(self._quad(ends, i, j))
        return shapely.union_all(shapely.polygons(np.array(quads))) if quads else NOTHING

    def _quad(self, ends: list[tuple[np.ndarray, float]], i: int, j: int) -> list[tuple[float, float]]:
        u, v, d = self.u, self.v, self.d
        corners = [
            (ends[0][0], ends[0][1]),
            (ends[1][0], ends[1][1]),
            (ends[1][0], self.level),
            (ends[0][0], self.level),
        ]
        return [(q[0] * u[i] + q[1] * v[i] + h * d[i], q[0] * u[j] + q[1] * v[j] + h * d[j]) for q, h in corners]

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


def _kept(t: np.ndarray, depth: np.ndarray) -> list[tuple[float, float]]:
    """Corners of the part of a triangle where the depth is positive."""
    out = []
    for m in range(3):
        n = (m + 1) % 3
        if depth[m] >= 0:
            out.append((float(t[m][0]), float(t[m][1])))
        if depth[m] * depth[n] < 0:
            w = depth[m] / (depth[m] - depth[n])
            q = t[m] + (t[n] - t[m]) * w
            out.append((float(q[0]), float(q[1])))
    return out
