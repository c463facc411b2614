"""Arcs as polygons that keep the arc's area: a chord polygon of 10 degrees would lose half a per cent of a circle."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import asin, atan2, cos, hypot, pi, sin

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

Point = tuple[float, float]
CHORDS = 72
"""Chords of a full turn."""
LONGEST_CHORD_RAD = 0.45
"""Chords of an arc that are longer than this are taken for straight sides."""


@dataclass(frozen=True)
class Circle:
    """A circle across a direction: centre and radius in the plane's coordinates."""

    x: float
    y: float
    r: float


SWELL = (2 * pi / CHORDS / sin(2 * pi / CHORDS)) ** 0.5
_TURN = np.array([(SWELL * cos(2 * pi * i / CHORDS), SWELL * sin(2 * pi * i / CHORDS)) for i in range(CHORDS)])


def disc(x: float, y: float, r: float) -> Polygon:
    """Polygon of 72 corners with the circle's area: its corners stand 0.06 % of the radius outside."""
    return shapely.polygons(r * _TURN + (x, y))  # type: ignore[no-any-return]


def arc_points(c: Point, r: float, start: float, end: float) -> list[Point]:
    """Points of an arc from angle `start` to `end` (radians, either way) whose polyline keeps the sector's area."""
    n = max(2, int(np.ceil(abs(end - start) / (2 * pi / CHORDS) - 1e-9)))
    step = (end - start) / n
    k = _inner_radius(r, abs(step), n)
    inner = [(c[0] + k * cos(start + i * step), c[1] + k * sin(start + i * step)) for i in range(1, n)]
    return [(c[0] + r * cos(start), c[1] + r * sin(start)), *inner, (c[0] + r * cos(end), c[1] + r * sin(end))]


def _inner_radius(r: float, step: float, n: int) -> float:
    """Radius of the inner points of n chords whose two ends lie on the circle, for equal area: a quadratic's root.

    Fan of triangles about the centre: 2 * r k sin(step) / 2 + (n - 2) k^2 sin(step) / 2 = n r^2 step / 2.
    """
    if n < 2 or step < 1e-9:
        return r
    s, m = sin(step), n - 2
    if m == 0:
        return r * step / s
    return r * (-1 + (1 + m * n * step / s) ** 0.5) / m


def refined(region: BaseGeometry, circles: Iterable[Circle]) -> BaseGeometry:
    """Region with every chord of a known circle replaced by a finer polyline of the arc's exact area."""
    known = sorted(set(circles), key=lambda c: (c.r, c.x, c.y))
    if not known or region.is_empty:
        return region
    polygons = region.geoms if hasattr(region, "geoms") else [region]
    made = [_refined(p, known) for p in polygons if p.geom_type == "Polygon"]
    out = shapely.union_all(made) if len(made) > 1 else made[0] if made else region
    return out if out.is_valid else out.buffer(0)


def _refined(polygon: Polygon, circles: list[Circle]) -> Polygon:
    return Polygon(_ring(polygon.exterior, circles), [_ring(r, circles) for r in polygon.interiors])


def _ring(ring: BaseGeometry, circles: list[Circle]) -> list[Point]:
    q = _snapped(shapely.get_coordinates(ring), circles)
    nearest = np.full(len(q) - 1, -1)
    for k, c in enumerate(circles):
        on = np.abs(np.hypot(q[:, 0] - c.x, q[:, 1] - c.y) - c.r) < 1e-4 + 1e-6 * c.r
        size = np.hypot(*(q[1:] - q[:-1]).T)
        nearest[on[:-1] & on[1:] & (size < 2 * c.r * sin(LONGEST_CHORD_RAD / 2))] = k
    out: list[Point] = []
    for i, k in enumerate(nearest):
        out.append((float(q[i][0]), float(q[i][1])))
        if k >= 0:
            out += _between(circles[k], q[i], q[i + 1])
    return out


def _snapped(q: np.ndarray, circles: list[Circle]) -> np.ndarray:
    """Ring with corners moved out to a circle where they and both neighbours lie on it or a chord's sagitta inside.

    Two chord polygons of one circle that were united leave such corners where their chords cross.
    """
    q = q[:-1].copy()
    before, after = np.arange(-1, len(q) - 1), np.arange(1, len(q) + 1) % len(q)
    for c in circles:
        rel = q - (c.x, c.y)
        r = np.hypot(*rel.T)
        near = np.abs(r - c.r * (1 - 0.0025)) < 0.0026 * c.r
        short = np.hypot(*(q[after] - q).T) < 2 * c.r * sin(LONGEST_CHORD_RAD / 2)
        move = near & near[before] & near[after] & short & short[before]
        q[move] = (c.x, c.y) + rel[move] * (c.r / r[move])[:, None]
    return np.vstack([q, q[:1]])


def _between(c: Circle, a: np.ndarray, b: np.ndarray) -> list[Point]:
    size = hypot(b[0] - a[0], b[1] - a[1])
    if size < 1e-6 * c.r:
        return []
    sweep = 2 * asin(min(1.0, size / (2 * c.r)))
    start = atan2(a[1] - c.y, a[0] - c.x)
    way = 1.0 if (a[0] - c.x) * (b[1] - c.y) - (a[1] - c.y) * (b[0] - c.x) > 0 else -1.0
    n = max(2, round(sweep / (2 * pi / CHORDS)))
    k = _inner_radius(c.r, sweep / n, n)
    angles = [start + way * sweep * i / n for i in range(1, n)]
    return [(c.x + k * cos(t), c.y + k * sin(t)) for t in angles]
