"""Solids that a plane across one of the box's axes cuts into polygons; here the prism, which most bodies are made of.

All coordinates are in the part's own frame: components along the frame's three axes, so that the box is
axis-aligned. A section across axis k has the coordinates of the two other axes, in ascending order.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import hypot
from typing import Protocol

import numpy as np
import shapely
from shapely import Polygon
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from recognizer.vector import dot
from shared.units import Vector

NOTHING = Polygon()
FLAT = 1e-9
ACROSS = {0: (1, 2), 1: (0, 2), 2: (0, 1)}
FEW = 64
"""Points up to which their distances are quicker found than a region that is so much smaller."""
STEPS = (np.arange(8) + 0.5) / 8


@dataclass(frozen=True)
class Half:
    """Half-space n . p <= c."""

    n: Vector
    c: float


@dataclass
class Prism:
    """Region (in coordinates along u and v) swept along d from level `low` to `high`, cut by half-spaces."""

    d: Vector
    u: Vector
    v: Vector
    region: BaseGeometry
    low: float
    high: float
    halves: tuple[Half, ...] = ()

    @cached_property
    def bounds(self) -> np.ndarray:
        """(2, 3): lowest and highest coordinates, without regard to the half-spaces."""
        q = shapely.get_coordinates(self.region)
        flat = q @ np.array([self.u, self.v])
        ends = np.sort(np.outer([self.low, self.high], self.d), axis=0)
        return np.array([flat.min(axis=0) + ends[0], flat.max(axis=0) + ends[1]])

    @property
    def around(self) -> np.ndarray:
        """See `Solid`."""
        return self.bounds

    @cached_property
    def volume(self) -> float | None:
        """Exact volume in mm3 where it has a closed form: no half-space, or one that leaves no column empty or whole."""
        area = self.region.area
        if not self.halves:
            return area * (self.high - self.low)
        if len(self.halves) > 1:
            return None
        h = self.halves[0]
        rise = dot(h.n, self.d)
        if abs(rise) < FLAT:
            return None
        gu, gv = dot(h.n, self.u), dot(h.n, self.v)
        q = shapely.get_coordinates(self.region)
        levels = (h.c - q @ np.array([gu, gv])) / rise
        if levels.min() < self.low - 1e-4 or levels.max() > self.high + 1e-4:
            return None
        c = self.region.centroid
        level = (h.c - gu * c.x - gv * c.y) / rise
        return area * ((level - self.low) if rise > 0 else (self.high - level))

    def image(self, k: int) -> BaseGeometry:
        """Region of a prism along axis k in the coordinates of the sections across it."""
        if k not in self._images:
            i, j = ACROSS[k]
            self._images[k] = affine_transform(self.region, [self.u[i], self.v[i], self.u[j], self.v[j], 0.0, 0.0])
        return self._images[k]

    @cached_property
    def _images(self) -> dict[int, BaseGeometry]:
        return {}

    def contains(self, p: np.ndarray, margin: float) -> np.ndarray:
        """(n,) True for points (n, 3) deeper inside than `margin`."""
        level = p @ np.array(self.d)
        ok = (level > self.low + margin) & (level < self.high - margin)
        for h in self.halves:
            ok &= p @ np.array(h.n) < h.c - margin
        if ok.any():
            ok[ok] = deep_in(self.region, p[ok] @ np.array(self.u), p[ok] @ np.array(self.v), margin)
        return ok

    def samples(self) -> np.ndarray:
        """(n, 3) points inside, in columns through the middle of each part of the region."""
        out = []
        for p in polygons_of(self.region):
            q = p.representative_point()
            foot = np.array(self.u) * q.x + np.array(self.v) * q.y
            out.append(foot + np.outer(self.low + STEPS * (self.high - self.low), self.d))
        return np.concatenate(out) if out else np.zeros((0, 3))


def deep_in(region: BaseGeometry, x: np.ndarray, y: np.ndarray, margin: float) -> np.ndarray:
    """(n,) True for points deeper inside a region than `margin`, which may be negative."""
    if len(x) > FEW:
        inner = region.buffer(-margin)
        shapely.prepare(inner)
        return shapely.contains_xy(inner, x, y)  # type: ignore[no-any-return]
    points = shapely.points(x, y)
    if margin < 0:
        return shapely.dwithin(region, points, -margin)  # type: ignore[no-any-return]
    return shapely.contains_xy(region, x, y) & ~shapely.dwithin(region.boundary, points, margin)  # type: ignore[no-any-return]


class Solid(Protocol):
    """What a body is made of: `Prism`, `Revolve` or `Field`."""

    @property
    def bounds(self) -> np.ndarray:
        """(2, 3): lowest and highest coordinates."""

    @property
    def around(self) -> np.ndarray:
        """(2, 3): a box that holds it, and with a slack to each side all that it contains with that slack."""

    @property
    def volume(self) -> float | None:
        """Closed form in mm3, or None."""

    def contains(self, p: np.ndarray, margin: float) -> np.ndarray:
        """(n,) True for points (n, 3) deeper inside than `margin`."""

    def samples(self) -> np.ndarray:
        """(n, 3) some points inside it, or near: those outside are for the caller to drop."""


def clipped(region: BaseGeometry, nx: float, ny: float, c: float) -> BaseGeometry:
    """Part of a region where nx x + ny y <= c."""
    size = hypot(nx, ny)
    if size < 1e-12:
        return region if c >= 0 else NOTHING
    if region.is_empty:
        return region
    x0, y0, x1, y1 = region.bounds
    far = max(nx * x0, nx * x1) + max(ny * y0, ny * y1)
    near = min(nx * x0, nx * x1) + min(ny * y0, ny * y1)
    if far <= c + 1e-9:
        return region
    if near >= c:
        return NOTHING
    nx, ny, c = nx / size, ny / size, c / size
    reach = 4 * (abs(x0) + abs(x1) + abs(y0) + abs(y1) + abs(c)) + 1
    fx, fy = nx * c, ny * c
    quad = [
        (fx - ny * reach, fy + nx * reach),
        (fx + ny * reach, fy - nx * reach),
        (fx + ny * reach - nx * reach, fy - nx * reach - ny * reach),
        (fx - ny * reach - nx * reach, fy + nx * reach - ny * reach),
    ]
    return region.intersection(shapely.polygons(quad))


def polygons_of(region: BaseGeometry) -> list[Polygon]:
    """The polygons of a region, without lines and points."""
    return [p for p in getattr(region, "geoms", [region]) if p.geom_type == "Polygon" and not p.is_empty]
