"""Solids that a plane across one of the box's axes cuts into polygons; here the prism, which most bodies are made of.

All coordinates are in the part's own frame: components along the frame's three axes, so that the box is
axis-aligned. A section across axis k has the coordinates of the two other axes, in ascending order.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from math import hypot
from typing import Protocol

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from recognizer.vector import cross, dot
from shared.units import Vector

NOTHING = Polygon()
FLAT = 1e-9
ACROSS = {0: (1, 2), 1: (0, 2), 2: (0, 1)}
FAR = 1e5
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

    def constant(self, k: int) -> bool:
        """Whether sections across axis k are equal between its critical levels."""
        if any(FLAT < abs(h.n[k]) < 1 - FLAT for h in self.halves):
            return False
        if abs(self.d[k]) > 1 - FLAT:
            return True
        return abs(self.d[k]) < FLAT and self._square(k)

    def _square(self, k: int) -> bool:
        """Every side of the region runs along or across axis k."""
        q = shapely.get_coordinates(self.region) @ np.array([self.u[k], self.v[k]])
        step = np.diff(q)
        size = np.hypot(*np.diff(shapely.get_coordinates(self.region), axis=0).T)
        return bool(np.all((np.abs(step) < 1e-6) | (np.abs(np.abs(step) - size) < 1e-6)))

    def critical(self, k: int) -> list[float]:
        """Levels along axis k between which its sections change smoothly."""
        out = [float(self.bounds[0][k]), float(self.bounds[1][k])]
        if abs(self.d[k]) < 1 - FLAT:
            swing = shapely.get_coordinates(self.region) @ np.array([self.u[k], self.v[k]])
            levels = [*(self._corners @ np.array([self.u[k], self.v[k]])), swing.min(), swing.max()]
            out += [
                float(x + e * self.d[k])
                for x in levels
                for e in ({self.low, self.high} if abs(self.d[k]) > FLAT else {0.0})
            ]
        for h in self.halves:
            out += self._half_levels(h, k)
        return out + self._creases(k)

    def _creases(self, k: int) -> list[float]:
        """Levels of the lines in which two cutting planes, or one and an end, meet across axis k: a vee's root."""
        if not self.halves:
            return []
        planes = [(h.n, h.c) for h in self.halves] + [(self.d, self.low), (self.d, self.high)]
        out = []
        for (n, c), (m, e) in combinations(planes, 2):
            way = cross(n, m)
            if abs(way[k]) < FLAT and dot(way, way) > 1e-6:
                out.append(float(np.linalg.solve(np.array([n, m, way]), np.array([c, e, 0.0]))[k]))
        return out

    @cached_property
    def _corners(self) -> np.ndarray:
        """Corners that turn by more than 12 degrees, and ends of arcs: not the corners between an arc's chords."""
        rings = [r for p in polygons_of(self.region) for r in (p.exterior, *p.interiors)]
        out = []
        for ring in rings:
            q = shapely.get_coordinates(ring)[:-1]
            a, b = q - np.roll(q, 1, axis=0), np.roll(q, -1, axis=0) - q
            before, after = np.hypot(*a.T), np.hypot(*b.T)
            sine = np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
            out.append(q[(sine > 0.2 * before * after) | (before > 1.5 * after) | (after > 1.5 * before)])
        return np.concatenate(out) if out else np.zeros((0, 2))

    def _half_levels(self, h: Half, k: int) -> list[float]:
        """Levels along axis k where a half-space's plane meets the prism's upright edges and its ends."""
        if abs(h.n[k]) > 1 - FLAT:
            return [h.c * h.n[k]]
        rise = dot(h.n, self.d)
        if abs(rise) < FLAT:
            return []

        def met(q: np.ndarray) -> np.ndarray:
            at = q @ np.array([self.u, self.v])
            return at[:, k] + (h.c - at @ np.array(h.n)) / rise * self.d[k]

        every = met(shapely.get_coordinates(self.region))
        return [float(x) for x in (*met(self._corners), every.min(), every.max())]

    def section(self, k: int, z: float) -> BaseGeometry:
        """Cut by the plane at z along axis k."""
        if not self.bounds[0][k] < z < self.bounds[1][k]:
            return NOTHING
        out = self._slanted(k, z) if abs(self.d[k]) > FLAT else self._lengthwise(k, z)
        i, j = ACROSS[k]
        for h in self.halves:
            out = clipped(out, h.n[i], h.n[j], h.c - h.n[k] * z)
        return out

    def _slanted(self, k: int, z: float) -> BaseGeometry:
        """Section that meets every line along d: an affine image of the region."""
        i, j = ACROSS[k]
        u, v, d = self.u, self.v, self.d
        if abs(d[k]) > 1 - FLAT:
            return self.image(k)
        t = z / d[k]
        a, b = u[k] / d[k], v[k] / d[k]
        matrix = [u[i] - a * d[i], v[i] - b * d[i], u[j] - a * d[j], v[j] - b * d[j], t * d[i], t * d[j]]
        out = affine_transform(self.region, matrix)
        # level along d, the two ends: d . p <= high and >= low
        out = clipped(out, d[i], d[j], self.high - d[k] * z)
        return clipped(out, -d[i], -d[j], d[k] * z - self.low)

    def sections(self, k: int, z: float) -> list[BaseGeometry]:
        """The same as a list."""
        return [self.section(k, z)]

    def image(self, k: int) -> BaseGeometry:
        """Region of a prism along axis k in the coordinates of the sections across it."""
        if k not in self._images:
            i, j = ACROSS[k]
            self._images[k] = affine_transform(self.region, [self.u[i], self.v[i], self.u[j], self.v[j], 0.0, 0.0])
        return self._images[k]

    @cached_property
    def _images(self) -> dict[int, BaseGeometry]:
        return {}

    def _lengthwise(self, k: int, z: float) -> BaseGeometry:
        """Section by a plane that runs along d: a rectangle for each stretch of the region on that plane."""
        i, j = ACROSS[k]
        gu, gv = self.u[k], self.v[k]
        size = hypot(gu, gv)
        foot, way = (gu * z / size**2, gv * z / size**2), (-gv / size, gu / size)
        a, b = (foot[0] - FAR * way[0], foot[1] - FAR * way[1]), (foot[0] + FAR * way[0], foot[1] + FAR * way[1])
        cut = self.region.intersection(LineString([a, b]))
        out = []
        for line in getattr(cut, "geoms", [cut]):
            if line.geom_type != "LineString" or line.is_empty:
                continue
            p, q = line.coords[0], line.coords[-1]
            flat = [(r[0] * self.u[i] + r[1] * self.v[i], r[0] * self.u[j] + r[1] * self.v[j]) for r in (p, q)]
            lo, hi = ((self.d[i] * e, self.d[j] * e) for e in (self.low, self.high))
            (x0, y0), (x1, y1) = flat
            out.append(
                Polygon(
                    [
                        (x0 + lo[0], y0 + lo[1]),
                        (x1 + lo[0], y1 + lo[1]),
                        (x1 + hi[0], y1 + hi[1]),
                        (x0 + hi[0], y0 + hi[1]),
                    ]
                )
            )
        return NOTHING if not out else out[0] if len(out) == 1 else MultiPolygon(out)

    def contains(self, p: np.ndarray, margin: float) -> np.ndarray:
        """(n,) True for points (n, 3) deeper inside than `margin`."""
        level = p @ np.array(self.d)
        ok = (level > self.low + margin) & (level < self.high - margin)
        for h in self.halves:
            ok &= p @ np.array(h.n) < h.c - margin
        if ok.any():
            inner = self.region.buffer(-margin)
            shapely.prepare(inner)
            ok[ok] = shapely.contains_xy(inner, p[ok] @ np.array(self.u), p[ok] @ np.array(self.v))
        return ok

    def samples(self) -> np.ndarray:
        """(n, 3) points inside, in columns through the middle of each part of the region."""
        out = []
        for p in polygons_of(self.region):
            q = p.representative_point()
            foot = np.array(self.u) * q.x + np.array(self.v) * q.y
            out.append(foot + np.outer(self.low + STEPS * (self.high - self.low), self.d))
        return np.concatenate(out) if out else np.zeros((0, 3))


class Solid(Protocol):
    """What a body is made of: `Prism`, `Revolve` or `Field`."""

    @property
    def bounds(self) -> np.ndarray:
        """(2, 3): lowest and highest coordinates."""

    @property
    def volume(self) -> float | None:
        """Closed form in mm3, or None."""

    def constant(self, k: int) -> bool:
        """Whether sections across axis k are equal between its critical levels."""

    def critical(self, k: int) -> list[float]:
        """Levels along axis k between which its sections change smoothly."""

    def section(self, k: int, z: float) -> BaseGeometry:
        """Cut by the plane at z along axis k."""

    def sections(self, k: int, z: float) -> list[BaseGeometry]:
        """The same in pieces that may overlap."""

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
