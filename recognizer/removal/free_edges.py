"""Regions whose rims are free curves, drawn finer: chords alone would lose up to a per cent of an oval."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

DIGITS = 3
"""Corners of a region that equal a curve's points to so many digits are those points."""
STEPS = 6
"""A chord is drawn as so many: what it cuts off shrinks with the square."""

Key = tuple[float, float]
Point = list[float]


def smoothed(region: BaseGeometry, curves: Iterable[np.ndarray]) -> BaseGeometry:
    """Region with every chord of some curves replaced by points of a smooth line through the curve's points.

    curves: (n, 2) points each, n > 2; a closed curve repeats its first point. Source of the line: cubic Hermite pieces
    whose slopes are those of parabolas through three neighbours.
    """
    if region.is_empty:
        return region
    between: dict[tuple[Key, Key], list[Point]] = {}
    for points in curves:
        keys = _keys(points)
        for a, b, inner in zip(keys, keys[1:], _inner(points).tolist(), strict=False):
            between[a, b] = inner
            between[b, a] = inner[::-1]
    if not between:
        return region
    polygons = [p for p in getattr(region, "geoms", [region]) if p.geom_type == "Polygon"]
    made = [Polygon(_ring(p.exterior, between), [_ring(r, between) for r in p.interiors]) for p in polygons]
    if not made or not all(p.is_valid for p in made):
        return region
    return made[0] if len(made) == 1 else type(region)(made)


def _keys(points: np.ndarray) -> list[Key]:
    return [(round(x, DIGITS) + 0.0, round(y, DIGITS) + 0.0) for x, y in points.tolist()]


def _ring(ring: BaseGeometry, between: dict[tuple[Key, Key], list[Point]]) -> list[Point]:
    q = shapely.get_coordinates(ring)
    keys = _keys(q)
    out: list[Point] = []
    for p, a, b in zip(q.tolist(), keys, keys[1:], strict=False):
        out.append(p)
        out += between.get((a, b), ())
    return out


def _inner(points: np.ndarray) -> np.ndarray:
    """(chords, STEPS - 1, 2) points inside each chord; none where two points are one."""
    way = np.diff(points, axis=0)
    size = np.hypot(*way.T)
    if (size < 1e-9).any():
        return np.zeros((len(way), 0, 2))
    slope = way / size[:, None]
    inside = (size[:-1, None] * slope[1:] + size[1:, None] * slope[:-1]) / (size[:-1] + size[1:])[:, None]
    first, last = 2 * slope[0] - inside[0], 2 * slope[-1] - inside[-1]
    if np.hypot(*(points[0] - points[-1])) < 1e-6:  # closed: the ends are neighbours
        first = last = (size[-1] * slope[0] + size[0] * slope[-1]) / (size[0] + size[-1])
    slopes = np.vstack([first, inside, last])
    t = (np.arange(1, STEPS) / STEPS)[:, None]
    a, b, ta, tb = (
        v[:, None] for v in (points[:-1], points[1:], slopes[:-1] * size[:, None], slopes[1:] * size[:, None])
    )
    return (  # type: ignore[no-any-return]
        (2 * t**3 - 3 * t**2 + 1) * a + (t**3 - 2 * t**2 + t) * ta + (3 * t**2 - 2 * t**3) * b + (t**3 - t**2) * tb
    )
