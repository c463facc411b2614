"""Which points lie inside the part: rays along the frame's axes meet its faces an odd number of times."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import STRtree

from recognizer.removal.frames import Shop
from recognizer.removal.solids import ACROSS

_AT_ONCE = 200_000
"""Pairs of points and triangles that are looked at together."""


def in_part(shop: Shop, p: np.ndarray) -> np.ndarray:
    """(n,) True for points inside the part: majority of three rays along the frame's axes."""
    return sum(odd(shop, p, k).astype(int) for k in range(3)) >= 2  # type: ignore[return-value]


def odd(shop: Shop, p: np.ndarray, k: int) -> np.ndarray:
    """Whether a ray up axis k from each point meets the part's faces an odd number of times."""
    i, j = ACROSS[k]
    x, y, z = p[:, i], p[:, j], p[:, k]
    flat = shop.once(("planes", k), lambda: _Flat.of(shop, k))
    curved = shop.once(("curved", k), lambda: _Curved.of(shop, k))
    return (flat.above(x, y, z) + curved.above(x, y, z)) % 2 == 1  # type: ignore[no-any-return]


MANY = 20_000
"""Pairs of a face's triangles with points from which on boxes of triangles are worth their making."""


@dataclass(frozen=True)
class _Flat:
    """Plane faces across an axis: polygons, (n, 3) coefficients a, b, c of their levels a x + b y + c, a tree of them."""

    polygons: np.ndarray
    levels: np.ndarray
    tree: STRtree

    @classmethod
    def of(cls, shop: Shop, k: int) -> _Flat:
        """Those of a part across axis k; they are ready to be asked for many points."""
        i, j = ACROSS[k]
        planes = [f for f in shop.ctx.faces if f.kind == "plane"]
        normals = shop.turned([f.surface.axis for f in planes])
        across = np.flatnonzero(np.abs(normals[:, k]) >= 1e-9)
        snap = shop.ctx.snapshot
        points, ring, owner = snap.edge_points.rings([planes[n] for n in across])
        flat = (points @ np.array(shop.ctx.frame.axes).T)[:, (i, j)]
        kept, place = np.unique(owner, return_inverse=True)
        rings = shapely.linearrings(flat, indices=ring) if len(flat) else []
        polygons = shapely.polygons(rings, indices=place) if len(flat) else np.array([], dtype=object)
        wrong = ~shapely.is_valid(polygons)
        polygons[wrong] = shapely.buffer(polygons[wrong], 0)
        shapely.prepare(polygons)
        n = normals[across[kept]]
        offsets = np.array([planes[m].surface.offset for m in across[kept]])
        levels = np.column_stack([-n[:, i], -n[:, j], offsets]) / n[:, k : k + 1]
        return cls(polygons, levels, STRtree(polygons))

    def above(self, x: np.ndarray, y: np.ndarray, z: np.ndarray) -> np.ndarray:
        """(n,) how many of the faces lie above each point."""
        point, face = self.tree.query(shapely.points(x, y))
        a, b, c = self.levels[face].T
        higher = a * x[point] + b * y[point] + c > z[point]
        point, face = point[higher], face[higher]
        inside = shapely.contains_xy(self.polygons[face], x[point], y[point])
        return np.bincount(point[inside], minlength=len(x))


@dataclass(frozen=True)
class _Curved:
    """The triangles of curved faces seen across an axis: (n, 3, 2) corners, (n, 3) coefficients of their levels; those
    of face f stand from first[f] to first[f + 1]. low, high: corners of the faces' boxes.
    """

    corners: np.ndarray
    levels: np.ndarray
    first: np.ndarray
    low: np.ndarray
    high: np.ndarray

    @classmethod
    def of(cls, shop: Shop, k: int) -> _Curved:
        """Those of a part across axis k; triangles that stand along it are left out."""
        i, j = ACROSS[k]
        q, face = shop.facets
        e, f = q[:, 1] - q[:, 0], q[:, 2] - q[:, 0]
        seen = np.abs(e[:, i] * f[:, j] - e[:, j] * f[:, i]) > 1e-9
        q, n, face = q[seen], np.cross(e[seen], f[seen]), face[seen]
        flat = q[:, :, (i, j)]
        levels = np.column_stack([-n[:, i], -n[:, j], (n * q[:, 0]).sum(axis=1)]) / n[:, k : k + 1]
        begins = np.flatnonzero(np.diff(face, prepend=-1))
        low, high = (
            (way.reduceat(way.reduce(flat, axis=1), begins) if len(begins) else np.empty((0, 2)))
            for way in (np.minimum, np.maximum)
        )
        return cls(flat, levels, np.append(begins, len(q)), low, high)

    def above(self, x: np.ndarray, y: np.ndarray, z: np.ndarray) -> np.ndarray:
        """(n,) how many of the triangles lie above each point."""
        count = np.zeros(len(x), dtype=int)
        if not len(self.low):
            return count
        tree = STRtree(shapely.points(x, y))
        for row, at in self._pairs(tree):
            a, b, c = self.levels[row].T
            higher = a * x[at] + b * y[at] + c > z[at]
            row, at = row[higher], at[higher]
            count += np.bincount(at[self._inside(row, x[at], y[at])], minlength=len(x))
        return count

    def _pairs(self, tree: STRtree) -> Iterator[tuple[np.ndarray, np.ndarray]]:
        """Triangles and points that may lie under them: all of a face and all under its box, but where these are many."""
        counts = np.diff(self.first)
        face, point = tree.query(shapely.box(*self.low.T, *self.high.T))
        many = np.bincount(face, minlength=len(counts)) * counts > MANY
        rows = np.flatnonzero(np.repeat(many, counts))
        low, high = self.corners[rows].min(axis=1), self.corners[rows].max(axis=1)
        row, at = tree.query(shapely.box(*low.T, *high.T))
        yield rows[row], at
        few = ~many[face]
        face, point, sizes = face[few], point[few], counts[face[few]]
        for part in np.split(np.arange(len(face)), np.flatnonzero(np.diff(np.cumsum(sizes) // _AT_ONCE)) + 1):
            size = sizes[part]
            step = np.arange(size.sum()) - np.repeat(np.cumsum(size) - size, size)
            yield np.repeat(self.first[face[part]], size) + step, np.repeat(point[part], size)

    def _inside(self, row: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """(n,) whether each point lies in its triangle."""
        corners = self.corners[row]
        sides = [_side(corners[:, i], corners[:, (i + 1) % 3], x, y) for i in range(3)]
        return np.all([s >= 0 for s in sides], axis=0) | np.all([s <= 0 for s in sides], axis=0)


def _side(a: np.ndarray, b: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """(n,) positive where a point lies to the left of its line from a to b."""
    return (b[:, 0] - a[:, 0]) * (y - a[:, 1]) - (b[:, 1] - a[:, 1]) * (x - a[:, 0])
