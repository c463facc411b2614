"""Regions whose rims are free curves, drawn finer: chords alone would lose up to a per cent of an oval."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

DIGITS = 3
"""Corners of a region that equal a curve's points to so many digits are those points."""
STEPS = 6
"""A chord is drawn as so many: what it cuts off shrinks with the square."""

Key = tuple[float, float]


def smoothed(region: BaseGeometry, curves: Iterable[np.ndarray]) -> BaseGeometry:
    """Region with every chord of some curves replaced by points of a smooth line through the curve's points.

    curves: (n, 2) points each, n > 2; a closed curve repeats its first point. Source of the line: cubic Hermite pieces
    whose slopes are those of parabolas through three neighbours.
    """
    between: dict[tuple[Key, Key], np.ndarray] = {}
    for points in curves:
        for a, b, inner in zip(points, points[1:], _inner(points), strict=False):
            between[_key(a), _key(b)] = inner
            between[_key(b), _key(a)] = inner[::-1]
    if not between or region.is_empty:
        return region
    polygons = [p for p in getattr(region, "geoms", [region]) if p.geom_type == "Polygon"]
    made = [Polygon(_ring(p.exterior, between), [_ring(r, between) for r in p.interiors]) for p in polygons]
    if not made or not all(p.is_valid for p in made):
        return region
    return made[0] if len(made) == 1 else type(region)(made)


def _key(q: np.ndarray) -> Key:
    return (round(float(q[0]), DIGITS) + 0.0, round(float(q[1]), DIGITS) + 0.0)


def _ring(ring: BaseGeometry, between: dict[tuple[Key, Key], np.ndarray]) -> list[tuple[float, float]]:
    q = np.array(ring.coords)
    keys = [_key(p) for p in q]
    out: list[tuple[float, float]] = []
    for p, a, b in zip(q, keys, keys[1:], strict=False):
        out.append((float(p[0]), float(p[1])))
        out += [(float(x), float(y)) for x, y in between.get((a, b), ())]
    return out


def _inner(points: np.ndarray) -> list[np.ndarray]:
    """(STEPS - 1, 2) points inside each chord."""
    way = np.diff(points, axis=0)
    size = np.hypot(*way.T)
    if (size < 1e-9).any():
        return [np.zeros((0, 2))] * len(way)
    slope = way / size[:, None]
    inside = (size[:-1, None] * slope[1:] + size[1:, None] * slope[:-1]) / (size[:-1] + size[1:])[:, None]
    first, last = 2 * slope[0] - inside[0], 2 * slope[-1] - inside[-1]
    if np.hypot(*(points[0] - points[-1])) < 1e-6:  # closed: the ends are neighbours
        first = last = (size[-1] * slope[0] + size[0] * slope[-1]) / (size[0] + size[-1])
    tangents = np.vstack([first, inside, last])
    t = (np.arange(1, STEPS) / STEPS)[:, None]
    out = []
    for k, h in enumerate(size):
        a, b = points[k], points[k + 1]
        ta, tb = tangents[k] * h, tangents[k + 1] * h
        out.append(
            (2 * t**3 - 3 * t**2 + 1) * a + (t**3 - 2 * t**2 + t) * ta + (3 * t**2 - 2 * t**3) * b + (t**3 - t**2) * tb
        )
    return out
