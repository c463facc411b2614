"""Bodies of revolution, cut by planes along or across their axis."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from math import pi

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from recognizer.removal.arcs import disc
from recognizer.removal.solids import ACROSS, FAR, FLAT, NOTHING, Half, clipped
from recognizer.snapshot import plane_axes
from recognizer.vector import cross, dot, scale, sub
from shared.units import Vector


@dataclass
class Revolve:
    """Profile (level along the axis, radius) turned about the axis o + t a, in a sector cut out by half-spaces."""

    o: Vector
    a: Vector
    profile: Polygon
    turn: float = 2 * pi
    halves: tuple[Half, ...] = ()
    _base: float = field(init=False)

    def __post_init__(self) -> None:
        self._base = dot(self.o, self.a)

    @cached_property
    def bounds(self) -> np.ndarray:
        """(2, 3): lowest and highest coordinates; of a sector no more than its own."""
        x0, r0, x1, r1 = self.profile.bounds
        rows = []
        for k in range(3):
            c = self.o[k] - self._base * self.a[k]
            ends = (x0 * self.a[k], x1 * self.a[k])
            least, most = self._swing(k)
            low, high = min(r0 * least, r1 * least), max(r0 * most, r1 * most)
            rows.append((c + min(ends) + low, c + max(ends) + high))
        return np.array(rows).T

    def _swing(self, k: int) -> tuple[float, float]:
        """Least and greatest component along axis k of the unit vectors away from the axis within the sector."""
        full = max(0.0, 1 - self.a[k] ** 2) ** 0.5
        if not self.halves:
            return -full, full
        way: Vector = (float(k == 0), float(k == 1), float(k == 2))
        out = sub(way, scale(self.a, self.a[k]))
        sides = [e for h in self.halves for e in (cross(self.a, h.n), cross(h.n, self.a))]
        values = [e[k] for e in sides if all(dot(e, h.n) < FLAT for h in self.halves)]
        if full > FLAT:
            for sign in (1.0, -1.0):
                if all(sign * dot(out, h.n) < FLAT for h in self.halves):
                    values.append(sign * full)
        return min(values), max(values)

    @cached_property
    def volume(self) -> float | None:
        """Exact by Pappus: area times the way of its centroid."""
        return self.turn * self.profile.area * self.profile.centroid.y if not self.profile.is_empty else 0.0

    def constant(self, k: int) -> bool:
        """Never: radii change."""
        return False

    def critical(self, k: int) -> list[float]:
        """Levels of the profile's ends and corners along axis k."""
        if abs(self.a[k]) > 1 - FLAT:
            shift = self.o[k] - self._base * self.a[k]
            q = shapely.get_coordinates(self.profile)
            a, b = q[:-1] - np.roll(q[:-1], 1, axis=0), q[1:] - q[:-1]
            sine = np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) > 0.2 * np.hypot(*a.T) * np.hypot(*b.T)
            return [float(shift + h * self.a[k]) for h in q[:-1][sine][:, 0]]
        out = [float(self.bounds[0][k]), float(self.bounds[1][k])]
        c = self.o[k]
        for r in {round(float(y), 9) for y in shapely.get_coordinates(self.profile)[:, 1]}:
            out += [c - r, c + r] if len(self.profile.exterior.coords) < 8 else []
        return out

    def section(self, k: int, z: float) -> BaseGeometry:
        """Cut by the plane at z along axis k; the axis must run along or across it."""
        if not self.bounds[0][k] < z < self.bounds[1][k]:
            return NOTHING
        out = self._across(k, z) if abs(self.a[k]) > 0.5 else self._lengthwise(k, z)
        i, j = ACROSS[k]
        for h in self.halves:
            out = clipped(out, h.n[i], h.n[j], h.c - h.n[k] * z)
        return out

    def sections(self, k: int, z: float) -> list[BaseGeometry]:
        """The same as a list."""
        return [self.section(k, z)]

    def _across(self, k: int, z: float) -> BaseGeometry:
        i, j = ACROSS[k]
        h = (z - self.o[k]) / self.a[k] + self._base
        cut = self.profile.intersection(LineString([(h, -1.0), (h, FAR)]))
        out: BaseGeometry = NOTHING
        for line in getattr(cut, "geoms", [cut]):
            if line.geom_type == "LineString" and not line.is_empty:
                r0, r1 = sorted(c[1] for c in (line.coords[0], line.coords[-1]))
                ring = disc(self.o[i], self.o[j], r1)
                out = out.union(ring.difference(disc(self.o[i], self.o[j], r0)) if r0 > 1e-6 else ring)
        return out

    def _lengthwise(self, k: int, z: float) -> BaseGeometry:
        i, j = ACROSS[k]
        y = abs(z - self.o[k])
        e = tuple(1.0 if m == k else 0.0 for m in range(3))
        w = cross(e, self.a)  # type: ignore[arg-type]
        upper = self.profile.intersection(shapely.box(-FAR, y, FAR, FAR))
        if upper.is_empty:
            return NOTHING
        x0, y0, x1, y1 = upper.bounds
        fine = upper.segmentize(max(1e-6, (x1 - x0 + y1 - y0) / 40))

        def mapped(sign: float) -> BaseGeometry:
            def move(q: np.ndarray) -> np.ndarray:
                s = sign * np.sqrt(np.maximum(0.0, q[:, 1] ** 2 - y * y))
                t = q[:, 0] - self._base
                return np.column_stack([self.o[i] + t * self.a[i] + s * w[i], self.o[j] + t * self.a[j] + s * w[j]])

            return shapely.transform(fine, move).buffer(0)

        return mapped(1.0).union(mapped(-1.0))

    def contains(self, p: np.ndarray, margin: float) -> np.ndarray:
        """(n,) True for points (n, 3) deeper inside than `margin`."""
        rel = p - np.array(self.o)
        t = rel @ np.array(self.a)
        r = np.sqrt(np.maximum(0.0, (rel * rel).sum(axis=1) - t * t))
        # The profile's side on the axis is no boundary.
        inner = self.profile.union(_mirrored(self.profile)).buffer(-margin)
        ok = shapely.contains_xy(inner, t + self._base, r)
        for h in self.halves:
            ok &= p @ np.array(h.n) < h.c - margin
        return ok

    def samples(self) -> np.ndarray:
        """(n, 3) points of its profile turned to four places: some lie outside the sector."""
        q = self.profile.representative_point()
        x, y = plane_axes(self.a)
        foot = np.array(self.o) + (q.x - self._base) * np.array(self.a)
        return foot + q.y * np.array([x, y, (-x[0], -x[1], -x[2]), (-y[0], -y[1], -y[2])])


def _mirrored(profile: Polygon) -> BaseGeometry:
    return affine_transform(profile, [1, 0, 0, -1, 0, 0])
