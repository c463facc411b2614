"""What stands before straight walls, near enough to stop a disc that touches them: looked for wall by wall, not node by node."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import STRtree

from recognizer.access.near import GRAZE
from recognizer.access.obstacles import Arcs, Segments

Array = np.ndarray
PROUD = 1e-4
"""An obstacle that stands out of the wall's own plane by less (mm) is the wall itself."""


@dataclass(frozen=True)
class Walls:
    """Straight walls seen along a direction: ends (n, 2), normal (n, 2), level, and how many nodes stand along each."""

    a: Array
    b: Array
    n: Array
    level: Array
    count: Array


@dataclass(frozen=True)
class Ahead:
    """Pairs of wall and obstacle, and the least radius at which the obstacle can stop a disc anywhere along the wall."""

    wall: Array
    shape: Array
    least: Array


def segments_ahead(walls: Walls, s: Segments, tops: Array, limit: float) -> Ahead:
    """Pairs of walls and segments."""
    low, high = np.minimum(s.a, s.b), np.maximum(s.a, s.b)
    i, j = _paired(walls, low, high, s.top, s.row, tops, limit)
    rise = np.maximum(_before(walls, i, s.a[j]), _before(walls, i, s.b[j]))
    return _kept(walls, i, j, rise, s.slack[j], low[j], high[j])


def arcs_ahead(walls: Walls, arcs: Arcs, tops: Array, limit: float) -> Ahead:
    """Pairs of walls and arcs."""
    low, high = arcs.centre - arcs.radius[:, None], arcs.centre + arcs.radius[:, None]
    i, j = _paired(walls, low, high, arcs.top, arcs.row, tops, limit)
    rise = _before(walls, i, arcs.centre[j]) + arcs.radius[j]
    return _kept(walls, i, j, rise, np.zeros(len(j)), low[j], high[j])


def _paired(
    walls: Walls, low: Array, high: Array, top: Array, row: Array, tops: Array, limit: float
) -> tuple[Array, Array]:
    """(wall, obstacle) whose boxes meet, obstacles high enough and cuts of the wall's own row."""
    if not len(walls.level) or not len(top):
        return np.empty(0, int), np.empty(0, int)
    along = np.stack([-walls.n[:, 1], walls.n[:, 0]], axis=1) * limit
    ahead = 2 * limit * walls.n
    corners = np.stack([p + q + r for p in (walls.a, walls.b) for q in (along, -along) for r in (0.0, ahead)])
    first, last = corners.min(axis=0), corners.max(axis=0)
    tree = STRtree(shapely.box(*low.T, *high.T))
    i, j = tree.query(shapely.box(*first.T, *last.T))
    own = np.searchsorted(tops, walls.level + GRAZE, side="right")
    kept = (walls.level[i] + GRAZE < top[j]) & ((row[j] < 0) | (row[j] == own[i]))
    return i[kept], j[kept]


def _before(walls: Walls, i: Array, p: Array) -> Array:
    """How far points stand out before their wall."""
    way, n = p - walls.a[i], walls.n[i]
    return way[:, 0] * n[:, 0] + way[:, 1] * n[:, 1]


def _kept(walls: Walls, i: Array, j: Array, rise: Array, slack: Array, low: Array, high: Array) -> Ahead:
    """Those that stand out before the wall. A disc that meets something at a distance has at least half of that as its radius."""
    k = np.flatnonzero(rise > slack + 0.5 * PROUD)
    i, j, low, high = i[k], j[k], low[k], high[k]
    one, two = np.minimum(walls.a[i], walls.b[i]), np.maximum(walls.a[i], walls.b[i])
    off = np.maximum(np.maximum(low - two, one - high), 0.0)
    return Ahead(i, j, np.hypot(off[:, 0], off[:, 1]) / 2)
