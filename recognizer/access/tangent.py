"""The largest disc that touches a point of a wall from outside and nothing else: closed forms, no steps.

A flat end mill that cuts a wall point p with outward normal n (both seen along the direction) stands at p + R n. All
such discs touch the wall in p and hold one another, so the first obstacle that the growing disc meets sets its radius:
for an obstacle point q, R = |q - p|^2 / (2 n . (q - p)). On a straight obstacle the smallest value is at an end or where
the derivative is zero (a quadratic); on an arc the disc is tangent to the circle from outside or inside, or meets an end.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from recognizer.access.ahead import PROUD, Walls, arcs_ahead, segments_ahead
from recognizer.access.near import GRAZE, Near, expanded
from recognizer.access.obstacles import Arcs, Nodes, Segments

Array = np.ndarray
STAGES = (0.06, 0.2, 0.5, 1.0)
"""Shares of the largest radius at which nodes are asked."""
FEW = 200_000
"""Up to so many pairs of node and obstacle all are looked at in one pass."""


@dataclass
class Fit:
    """For each node: largest radius (inf: nothing in the way), the face that stops it (-1: none), and how far across the
    disc that face lies: 1 is right opposite (a gap), 0.7 beside (a square corner).
    """

    radius: Array
    face: Array
    across: Array

    @classmethod
    def free(cls, count: int) -> Fit:
        """Nothing in the way yet."""
        return cls(np.full(count, np.inf), np.full(count, -1), np.zeros(count))

    def capped(self, cap: Array) -> Fit:
        """With what each node's own face allows at most."""
        own = cap < self.radius
        self.radius[own], self.face[own], self.across[own] = cap[own], -1, 0.0
        return self

    def some(self, k: slice) -> Fit:
        """A selection."""
        return Fit(self.radius[k], self.face[k], self.across[k])

    def take(self, k: Array, other: Fit) -> None:
        """Takes over what is known of nodes k."""
        self.radius[k], self.face[k], self.across[k] = other.radius, other.face, other.across


def largest_discs(nodes: Nodes, segments: Segments, arcs: Arcs, tops: Array, limit: float, cap: Array) -> Fit:
    """Largest discs, right up to radius `limit`; beyond it what is said is at least the limit.

    tops: top level of each row of cuts. cap: what each node's own face allows at most. A disc of radius r meets nothing
    farther than 2 r from its node. So small discs are looked for first, among the near obstacles, and only nodes that are
    still free are asked again with more of them.
    """
    fit = Fit.free(len(nodes))
    left = np.arange(len(nodes))
    few = len(nodes) * (len(segments) + len(arcs)) <= FEW
    for size in (limit,) if few else tuple(limit * share for share in STAGES):
        if not len(left):
            break
        near = Near(nodes.some(left), segments, arcs, tops, 2 * size)
        for i, j in near.segments():
            _take_less(fit, left, _by_segments(near.nodes, segments, i, j))
        for i, j in near.arcs():
            _take_less(fit, left, _by_arcs(near.nodes, arcs, i, j))
        left = left[~((fit.radius[left] <= size) | (cap[left] <= size))]
    return fit.capped(cap)


def discs_along(walls: Walls, nodes: Nodes, segments: Segments, arcs: Arcs, tops: Array, limit: float) -> Fit:
    """The same for nodes in rows along straight walls: obstacles are looked for once for each wall.

    walls: see `Walls`; nodes: those of all walls, one wall's after the other's.
    """
    fit, every = Fit.free(len(nodes)), np.arange(len(nodes))
    first = np.cumsum(walls.count) - walls.count
    for ahead, measure in (
        (segments_ahead(walls, segments, tops, limit), partial(_by_segments, nodes, segments)),
        (arcs_ahead(walls, arcs, tops, limit), partial(_by_arcs, nodes, arcs)),
    ):
        before = -1.0
        for size in (limit * share for share in STAGES):
            k = np.flatnonzero((ahead.least > before) & (ahead.least <= size))
            wall, shape = ahead.wall[k], ahead.shape[k]
            for pair, node in expanded(first[wall], walls.count[wall], every):
                left = np.flatnonzero(fit.radius[node] > before)
                left = left[np.argsort(node[left], kind="stable")]
                _take_less(fit, every, measure(node[left], shape[pair[left]]))
            before = size
    return fit


def _take_less(fit: Fit, names: Array, measured: tuple[Array, Array, Array, Array]) -> None:
    """Takes over smaller radii: (pair's node in ascending order, radius, across, face of the obstacle)."""
    node, value, across, face = measured
    if not len(node):
        return
    lead = np.flatnonzero(np.concatenate([[True], np.diff(node) != 0]))
    least = np.minimum.reduceat(value, lead)
    count = np.diff(np.append(lead, len(node)))
    k = np.flatnonzero(value == np.repeat(least, count))
    k = k[np.concatenate([[True], np.diff(node[k]) != 0])]
    k = k[value[k] < fit.radius[names[node[k]]]]
    at = names[node[k]]
    fit.radius[at], fit.face[at], fit.across[at] = value[k], face[k], np.minimum(across[k], 1.0)


def _by_segments(nodes: Nodes, s: Segments, i: Array, j: Array) -> tuple[Array, Array, Array, Array]:
    """Pairs of node and segment: those in front of the node's wall, with the radius at which they stop its disc."""
    # First what is cheap: whether an end of the segment stands out in front of the wall, and high enough.
    nx, ny = nodes.n[:, 0][i], nodes.n[:, 1][i]
    foot = nodes.foot[i]
    rise, end = nx * s.a[:, 0][j] + ny * s.a[:, 1][j] - foot, nx * s.b[:, 0][j] + ny * s.b[:, 1][j] - foot
    slack = nodes.slack[i] + (s.slack[j] + PROUD)
    k = np.flatnonzero((np.maximum(rise, end) > slack) & (nodes.level[i] + GRAZE < s.top[j]))
    i, j, rise, end = i[k], j[k], rise[k], end[k]
    p, a, b = nodes.p[i], s.a[j], s.b[j]
    low, high = _above(s, nodes.level[i], j)
    wx, wy, ex, ey = a[:, 0] - p[:, 0], a[:, 1] - p[:, 1], b[:, 0] - a[:, 0], b[:, 1] - a[:, 1]
    best, across = _smallest(wx, wy, ex, ey, rise, end - rise, slack[k], low, high)
    return i, best, across, s.face[j]


def _above(s: Segments, level: Array, j: Array) -> tuple[Array, Array]:
    """Which stretch of each segment, 0 to 1 from a to b, lies above a level."""
    rise, top = s.rise[j], s.top[j]
    flat = np.abs(rise) < 1e-3
    start = top - np.maximum(rise, 0.0)
    t = np.clip((level - start) / np.where(flat, 1.0, rise), 0.0, 1.0)
    return np.where(flat | (rise < 0), 0.0, t), np.where(flat | (rise > 0), 1.0, t)


def _smallest(
    wx: Array, wy: Array, ex: Array, ey: Array, rise: Array, slope: Array, slack: Array, low: Array, high: Array
) -> tuple[Array, Array]:
    """Smallest |w + t e|^2 / (2 n . (w + t e)) over low <= t <= high, and |w + t e| over twice that."""
    square, mixed, own = wx * wx + wy * wy, wx * ex + wy * ey, np.maximum(ex * ex + ey * ey, 1e-18)
    # d/dt = 0: own slope t^2 + 2 own rise t + 2 mixed rise - slope square = 0
    flat = np.abs(slope) < 1e-9
    bend = np.where(flat, 1.0, own * slope)
    root = np.sqrt(np.maximum((own * rise) ** 2 - bend * (2 * mixed * rise - slope * square), 0.0))
    best, across = np.full(len(wx), np.inf), np.zeros(len(wx))
    middle = np.where(flat, -mixed / own, 0.0)
    for t in (
        low,
        high,
        np.clip(np.where(flat, middle, (-own * rise + root) / bend), low, high),
        np.clip(np.where(flat, middle, (-own * rise - root) / bend), low, high),
    ):
        height = rise + t * slope
        size = square + 2 * mixed * t + own * t * t
        free = height <= slack
        # What may lie off by the slack counts as pushed back by it: then a facet's neighbours do not stop its own disc.
        value = np.where(free, np.inf, (size - slack * slack) / (2 * np.where(free, 1.0, height - slack)))
        value = np.maximum(value, 0.0)
        less = value < best
        best[less] = value[less]
        across[less] = np.sqrt(size[less]) / np.maximum(2 * value[less], 1e-9)
    return best, across


def _by_arcs(nodes: Nodes, arcs: Arcs, i: Array, j: Array) -> tuple[Array, Array, Array, Array]:
    """Pairs of node and arc with the radius at which the arc stops the node's disc."""
    k = np.flatnonzero(nodes.level[i] + GRAZE < arcs.top[j])
    i, j = i[k], j[k]
    r, slack = arcs.radius[j], nodes.slack[i]
    nx, ny = nodes.n[:, 0][i], nodes.n[:, 1][i]
    wx, wy = nodes.p[:, 0][i] - arcs.centre[:, 0][j], nodes.p[:, 1][i] - arcs.centre[:, 1][j]
    far2, along = wx * wx + wy * wy, nx * wx + ny * wy
    outer, inner = np.maximum(r - slack, 1e-9), r + slack
    ways = (wx, wy, nx, ny)
    outside = _tangent((far2 - outer**2), outer - along, 1.0, ways, r, arcs, j)
    value = np.minimum(outside, _tangent((inner**2 - far2), inner + along, -1.0, ways, r, arcs, j))
    # On the hollow side of its own circle the disc may grow to the circle itself.
    on_circle = np.flatnonzero(np.abs(np.sqrt(far2) - r) < 1e-5 * np.maximum(r, 1.0) + slack)
    own = np.zeros(len(r), bool)
    if len(on_circle):
        k, size = on_circle, np.maximum(r[on_circle], 1.0)
        hollow = (r[k] + along[k] < 1e-6 * size + slack[k]) & _within(np.arctan2(wy[k], wx[k]), arcs, j[k], 1e-3)
        value[k] = np.where(hollow, r[k], np.where(along[k] > 0.999999 * r[k] - slack[k], np.inf, value[k]))
        own[k] = hollow
    gap = np.full(len(value), 0.75)
    k = np.flatnonzero(np.isfinite(value))
    if len(k):
        size = value[k]
        x, y = wx[k] + size * nx[k], wy[k] + size * ny[k]
        turn = (
            np.where(outside[k] <= size + 1e-12, 1.0, np.sign(r[k] - size)) * r[k] / np.maximum(np.hypot(x, y), 1e-12)
        )
        gap[k] = np.hypot(x * turn - wx[k], y * turn - wy[k]) / np.maximum(2 * size, 1e-9)
        gap[own] = 0.5
    return i, value, gap, arcs.face[j]


def _tangent(above: Array, below: Array, side: float, ways: tuple[Array, ...], r: Array, arcs: Arcs, j: Array) -> Array:
    """Radius above / (2 below) where it is positive and the contact lies on the arc; inf elsewhere.

    ways: components of the way from the arc's centre to the node, and of the node's normal.
    """
    out = np.full(len(above), np.inf)
    k = np.flatnonzero((np.abs(below) > 1e-9) & ((above >= 0) == (below > 0)) | (above == 0))
    value = above[k] / (2 * np.where(np.abs(below[k]) > 1e-9, below[k], np.inf))
    good = np.flatnonzero((value >= 0) & (value < 1e6) & (np.abs(below[k]) > 1e-9))
    k, value = k[good], value[good]
    wx, wy, nx, ny = (way[k] for way in ways)
    way = side if side > 0 else np.where(r[k] >= value, 1.0, -1.0)
    angle = np.arctan2((wy + value * ny) * way, (wx + value * nx) * way)
    on = _within(angle, arcs, j[k], 1e-6)
    out[k[on]] = value[on]
    return out


def _within(angle: Array, arcs: Arcs, j: Array, more: float) -> Array:
    turn = np.abs((angle - arcs.middle[j] + np.pi) % (2 * np.pi) - np.pi)
    return turn <= arcs.half[j] + more
