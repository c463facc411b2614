"""Columns over or under a triangulated face: many triangles cut at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from recognizer.removal.solids import ACROSS, FLAT, NOTHING
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
        pieces = self.sections(k, z)
        return NOTHING if not pieces else pieces[0] if len(pieces) == 1 else shapely.union_all(pieces)

    def sections(self, k: int, z: float) -> list[BaseGeometry]:
        """The same in pieces."""
        if not self.bounds[0][k] < z < self.bounds[1][k]:
            return []
        return self._across(k, z) if abs(self.d[k]) > 0.5 else self._lengthwise(k, z)

    def _across(self, k: int, z: float) -> list[BaseGeometry]:
        i, j = ACROSS[k]
        level = z * self.d[k]
        depth = (level - self.base) if self.above else (self.base - level)
        whole, none = (depth >= 0).all(axis=1), (depth <= 0).all(axis=1)
        pieces = [self._joined(np.asarray(whole))] if whole.any() else []
        cut = ~whole & ~none
        if cut.any():
            pieces += _kept(self.triangles[cut], depth[cut])
        turn = np.array([[self.u[i], self.u[j]], [self.v[i], self.v[j]]])
        return list(shapely.transform(np.array(pieces, dtype=object), lambda q: q @ turn)) if pieces else []

    @cached_property
    def _kept_unions(self) -> dict[bytes, BaseGeometry]:
        return {}

    def _joined(self, whole: np.ndarray) -> BaseGeometry:
        """Union of some of the triangles; neighbouring levels often ask for the same ones."""
        key = whole.tobytes()
        if key not in self._kept_unions:
            self._kept_unions[key] = united(self._shapes[whole])
        return self._kept_unions[key]

    def _lengthwise(self, k: int, z: float) -> list[BaseGeometry]:
        """What stands between the level and the line in which the plane cuts the triangles."""
        i, _ = ACROSS[k]
        m = int(np.argmax(np.abs(self.d)))
        other = 3 - k - m
        ends, base = self._crossed(self.triangles @ np.array([self.u[k], self.v[k]]) - z)
        if not len(ends):
            return []
        at = ends @ np.array([self.u[other], self.v[other]])
        order = np.argsort(at, axis=1)
        at, base = np.take_along_axis(at, order, axis=1), np.take_along_axis(base, order, axis=1)
        tall = (np.abs(base - self.level).max(axis=1) > TINY) & (at[:, 1] - at[:, 0] > TINY)
        strips = _strips(at[tall], base[tall], self.level)
        if other == i:
            return [shapely.Polygon(s * (1.0, self.d[m])) for s in strips]
        return [shapely.Polygon(s[:, ::-1] * (self.d[m], 1.0)) for s in strips]

    def _crossed(self, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """(n, 2, 2) ends across d of the lines in which a plane cuts triangles, (n, 2) the ends' levels.

        at: (triangles, 3) distances of the corners from the plane.
        """
        at = np.where(at == 0, 1e-12, at)  # a corner on the plane counts as beyond it
        ends, base, met = [], [], []
        for m, n in ((0, 1), (1, 2), (2, 0)):
            met.append(at[:, m] * at[:, n] < 0)
            w = at[:, m] / np.where(met[-1], at[:, m] - at[:, n], 1.0)
            ends.append(self.triangles[:, m] + (self.triangles[:, n] - self.triangles[:, m]) * w[:, None])
            base.append(self.base[:, m] + (self.base[:, n] - self.base[:, m]) * w)
        # Of three sides two are met, or none.
        crossed = np.any(met, axis=0)
        first = np.where(met[0], 0, 1)[crossed]
        second = np.where(met[2], 2, 1)[crossed]
        sides, levels = np.stack(ends, axis=1)[crossed], np.stack(base, axis=1)[crossed]
        rows = np.arange(len(first))
        both = np.stack([sides[rows, first], sides[rows, second]], axis=1)
        return both, np.stack([levels[rows, first], levels[rows, second]], axis=1)

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


def united(shapes: np.ndarray) -> BaseGeometry:
    """Union of triangles; quicker where they do not overlap, as those of a face seen once."""
    try:
        whole = shapely.coverage_union_all(shapes)
    except shapely.GEOSException:
        return shapely.union_all(shapes)
    total = float(shapely.area(shapes).sum())
    if whole.is_valid and abs(whole.area - total) < 1e-9 * total:
        return whole
    return shapely.union_all(shapes)


def _kept(triangles: np.ndarray, depth: np.ndarray) -> list[BaseGeometry]:
    """Parts of triangles where the depth is positive; each has corners on both sides."""
    over = depth >= 0
    alone = np.where(over.sum(axis=1) == 1, over.argmax(axis=1), (~over).argmax(axis=1))
    turn = (alone[:, None] + np.arange(3)) % 3
    t, h = np.take_along_axis(triangles, turn[:, :, None], axis=1), np.take_along_axis(depth, turn, axis=1)
    a, b = (t[:, :1] + (t[:, n : n + 1] - t[:, :1]) * (h[:, 0] / (h[:, 0] - h[:, n]))[:, None, None] for n in (1, 2))
    single = h[:, 0] >= 0
    tips = np.concatenate([t[:, :1], a, b], axis=1)[single]
    rests = np.concatenate([a, t[:, 1:], b], axis=1)[~single]
    return [*shapely.polygons(tips), *shapely.polygons(rests)]


def _strips(at: np.ndarray, base: np.ndarray, level: float) -> list[np.ndarray]:
    """Rings (place, level) between a level and stretches given as (n, 2) places and levels; neighbours are joined."""
    out: list[list[tuple[float, float]]] = []
    for (x0, x1), (h0, h1) in sorted(zip(at.tolist(), base.tolist(), strict=True)):
        last = out[-1][-1] if out else None
        if (
            last is not None
            and abs(last[0] - x0) < TINY
            and abs(last[1] - h0) < TINY
            and min(abs(level - h0), abs(level - h1)) > TINY
        ):
            out[-1].append((x1, h1))
        else:
            out.append([(x0, h0), (x1, h1)])
    return [np.array([*line, (line[-1][0], level), (line[0][0], level)]) for line in out]
