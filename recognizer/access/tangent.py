"""The largest disc that touches a point of a wall from outside and nothing else: closed forms, no steps.

A flat end mill that cuts a wall point p with outward normal n (both seen along the direction) stands at p + R n. All
such discs touch the wall in p and hold one another, so the first obstacle that the growing disc meets sets its radius:
for an obstacle point q, R = |q - p|^2 / (2 n . (q - p)). On a straight obstacle the smallest value is at an end or where
the derivative is zero (a quadratic); on an arc the disc is tangent to the circle from outside or inside, or meets an end.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

Array = np.ndarray
PROUD = 1e-4
"""An obstacle that stands out of the wall's own plane by less (mm) is the wall itself."""
GRAZE = 1e-6
"""A top level that is higher by less (mm) is the same level."""
STAGES = (0.06, 0.2, 0.5, 1.0)
"""Shares of the largest radius at which nodes are asked."""
ROW_OF_CELLS = 1_000_003
MOST_CELLS = 4096
"""An obstacle over more cells than this is looked at from every cell."""
CHUNK = 200_000
"""Pairs of node and obstacle looked at in one pass: some 3 MB an array."""


@dataclass(frozen=True)
class Segments:
    """Straight obstacles: ends (n, 2); they stop a tip from level `base` to below `top`; face; slack: mm they may lie off.

    rise: level of b less that of a; what of a slanted one lies below the tip does not count.
    """

    a: Array
    b: Array
    top: Array
    face: Array
    slack: Array
    base: Array
    rise: Array

    def __len__(self) -> int:
        return len(self.top)

    def some(self, k: Array) -> Segments:
        """A selection."""
        return Segments(self.a[k], self.b[k], self.top[k], self.face[k], self.slack[k], self.base[k], self.rise[k])


@dataclass(frozen=True)
class Arcs:
    """Arcs of circles: centre (n, 2), radius, middle angle and half span in rad, top level, face."""

    centre: Array
    radius: Array
    middle: Array
    half: Array
    top: Array
    face: Array

    def __len__(self) -> int:
        return len(self.top)

    def some(self, k: Array) -> Arcs:
        """A selection."""
        return Arcs(self.centre[k], self.radius[k], self.middle[k], self.half[k], self.top[k], self.face[k])


@dataclass(frozen=True)
class Nodes:
    """Points of faces: p and n (k, 2) in the plane across the direction, level, slack in mm."""

    p: Array
    n: Array
    level: Array
    slack: Array

    def __len__(self) -> int:
        return len(self.level)

    def some(self, k: Array) -> Nodes:
        """A selection."""
        return Nodes(self.p[k], self.n[k], self.level[k], self.slack[k])


@dataclass
class Fit:
    """For each node: largest radius (inf: nothing in the way), the face that stops it (-1: none), and how far across the
    disc that face lies: 1 is right opposite (a gap), 0.7 beside (a square corner).
    """

    radius: Array
    face: Array
    across: Array


def largest_discs(nodes: Nodes, segments: Segments, arcs: Arcs, limit: float, cap: Array) -> Fit:
    """Largest discs, right up to radius `limit`; beyond it what is said is at least the limit. `cap`: what each node's own face allows at most.

    A disc of radius r meets nothing farther than 2 r from its node. So small discs are looked for first, among the near
    obstacles, and only nodes that are still free are asked again with more of them.
    """
    fit = Fit(np.full(len(nodes), np.inf), np.full(len(nodes), -1), np.zeros(len(nodes)))
    left = np.arange(len(nodes))
    few = len(nodes) * (len(segments) + len(arcs)) <= CHUNK
    for size in (limit,) if few else tuple(limit * share for share in STAGES):
        if not len(left):
            break
        found = _staged(nodes.some(left), segments, arcs, size, few)
        fit.radius[left], fit.face[left], fit.across[left] = found.radius, found.face, found.across
        done = (found.radius <= size) | (cap[left] <= size)
        left = left[~done]
    own = cap < fit.radius
    fit.radius[own], fit.face[own], fit.across[own] = cap[own], -1, 0.0
    return fit


def _staged(nodes: Nodes, segments: Segments, arcs: Arcs, limit: float, few: bool) -> Fit:
    fit = Fit(np.full(len(nodes), np.inf), np.full(len(nodes), -1), np.zeros(len(nodes)))
    if few:
        _block(fit, np.arange(len(nodes)), nodes, segments, arcs)
        return fit
    for k, s, a in _near(nodes, segments, arcs, limit):
        rows = max(1, CHUNK // max(1, len(s) + len(a)))
        chosen_s, chosen_a = segments.some(s), arcs.some(a)
        for i in range(0, len(k), rows):
            _block(fit, k[i : i + rows], nodes.some(k[i : i + rows]), chosen_s, chosen_a)
    return fit


def _near(nodes: Nodes, segments: Segments, arcs: Arcs, limit: float) -> Iterator[tuple[Array, Array, Array]]:
    """(nodes, segments, arcs) by cells of the plane: a disc of the limit's radius reaches two radii from its node."""
    size = 2 * limit
    cell = np.floor(nodes.p / size).astype(np.int64)
    keys, of = np.unique(cell[:, 0] * ROW_OF_CELLS + cell[:, 1], return_inverse=True)
    order = np.argsort(of, kind="stable")
    groups = np.split(order, np.flatnonzero(np.diff(of[order])) + 1)
    reach = arcs.radius[:, None]
    by_cell = (
        _in_cells(np.minimum(segments.a, segments.b), np.maximum(segments.a, segments.b), keys, size),
        _in_cells(arcs.centre - reach, arcs.centre + reach, keys, size),
    )
    for i, k in enumerate(groups):
        deep = nodes.level[k].min()
        s, a = (held[start[i] : start[i + 1]] for held, start in by_cell)
        yield k, s[segments.top[s] > deep], a[arcs.top[a] > deep]


def _in_cells(low: Array, high: Array, keys: Array, size: float) -> tuple[Array, Array]:
    """Obstacles within `size` of each cell: (obstacles, cell by cell, where each cell begins)."""
    first = np.floor(low / size).astype(np.int64) - 1
    wide = np.floor(high / size).astype(np.int64) + 2 - first
    count = wide[:, 0] * wide[:, 1]
    large = count > MOST_CELLS
    count = np.where(large, 0, count)
    owner = np.repeat(np.arange(len(low)), count)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    key = (first[owner, 0] + place // wide[owner, 1]) * ROW_OF_CELLS + first[owner, 1] + place % wide[owner, 1]
    at = np.minimum(np.searchsorted(keys, key), len(keys) - 1)
    kept = keys[at] == key
    owner, at = owner[kept], at[kept]
    if large.any():
        everywhere = np.flatnonzero(large)
        owner = np.concatenate([owner, np.tile(everywhere, len(keys))])
        at = np.concatenate([at, np.repeat(np.arange(len(keys)), len(everywhere))])
    order = np.lexsort((owner, at))
    return owner[order], np.searchsorted(at[order], np.arange(len(keys) + 1))


def _block(fit: Fit, k: Array, nodes: Nodes, segments: Segments, arcs: Arcs) -> None:
    for measured in (_by_segments(nodes, segments), _by_arcs(nodes, arcs)):
        if measured is None:
            continue
        radius, face, across = measured
        less = radius < fit.radius[k]
        fit.radius[k[less]], fit.face[k[less]], fit.across[k[less]] = radius[less], face[less], across[less]


def _by_segments(nodes: Nodes, s: Segments) -> tuple[Array, Array, Array] | None:
    if not len(s):
        return None
    level = nodes.level[:, None]
    active = (level + GRAZE < s.top) & (level >= s.base)
    slack = nodes.slack[:, None] + s.slack + PROUD
    wx, wy = s.a[:, 0] - nodes.p[:, :1], s.a[:, 1] - nodes.p[:, 1:]
    nx, ny = nodes.n[:, :1], nodes.n[:, 1:]
    ex, ey = (s.b - s.a).T
    rise, slope = nx * wx + ny * wy, nx * ex + ny * ey
    active &= np.maximum(rise, rise + slope) > slack
    i, j = np.nonzero(active)
    if not len(i):
        return None
    low, high = _above(s, nodes.level[i], j)
    best, across = _smallest(wx[i, j], wy[i, j], ex[j], ey[j], rise[i, j], slope[i, j], slack[i, j], low, high)
    return _first(best, across, s.face[j], i, len(nodes))


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


def _first(value: Array, across: Array, face: Array, node: Array, count: int) -> tuple[Array, Array, Array]:
    """Of the pairs of each node the one of smallest value."""
    order = np.lexsort((value, node))
    lead = np.ones(len(order), bool)
    lead[1:] = np.diff(node[order]) != 0
    k = order[lead]
    radius, faces, sides = np.full(count, np.inf), np.full(count, -1), np.zeros(count)
    radius[node[k]], faces[node[k]], sides[node[k]] = value[k], face[k], np.minimum(across[k], 1.0)
    return radius, faces, sides


def _by_arcs(nodes: Nodes, arcs: Arcs) -> tuple[Array, Array, Array] | None:
    if not len(arcs):
        return None
    i, j = np.nonzero(nodes.level[:, None] + GRAZE < arcs.top)
    if not len(i):
        return None
    p, n, r = nodes.p[i], nodes.n[i], arcs.radius[j]
    w = p - arcs.centre[j]
    far2, along = (w * w).sum(axis=1), (n * w).sum(axis=1)
    slack = nodes.slack[i]
    outer, inner = np.maximum(r - slack, 1e-9), r + slack
    found = [
        _tangent((far2 - outer**2), outer - along, 1.0, w, n, r, arcs, j),
        _tangent((inner**2 - far2), inner + along, -1.0, w, n, r, arcs, j),
    ]
    # On the hollow side of its own circle the disc may grow to the circle itself.
    own = (r + along < 1e-6 * np.maximum(r, 1.0) + slack) & (
        np.abs(np.sqrt(far2) - r) < 1e-5 * np.maximum(r, 1.0) + slack
    )
    own &= _within(np.arctan2(w[:, 1], w[:, 0]), arcs, j, 1e-3)
    on_bulge = (np.abs(np.sqrt(far2) - r) < 1e-5 * np.maximum(r, 1.0) + slack) & (along > 0.999999 * r - slack)
    value = np.minimum(found[0], found[1])
    value = np.where(own, r, np.where(on_bulge, np.inf, value))
    gap = np.full(len(value), 0.75)
    ok = np.isfinite(value)
    if ok.any():
        centre = w[ok] + value[ok, None] * n[ok]
        size = np.maximum(np.linalg.norm(centre, axis=1), 1e-12)
        sign = np.where(found[0][ok] <= value[ok] + 1e-12, 1.0, np.sign(r[ok] - value[ok]))
        touch = centre / size[:, None] * (sign * r[ok])[:, None] - w[ok]
        gap[ok] = np.linalg.norm(touch, axis=1) / np.maximum(2 * value[ok], 1e-9)
        gap[own] = 0.5
    return _first(value, gap, arcs.face[j], i, len(nodes))


def _tangent(above: Array, below: Array, side: float, w: Array, n: Array, r: Array, arcs: Arcs, j: Array) -> Array:
    """Radius above / (2 below) where it is positive and the contact lies on the arc; inf elsewhere."""
    good = np.abs(below) > 1e-9
    value = np.where(good, above / (2 * np.where(good, below, 1.0)), np.inf)
    value = np.where((value >= 0) & (value < 1e6), value, np.inf)
    finite = np.where(np.isfinite(value), value, 0.0)
    centre = w + finite[:, None] * n
    way = side if side > 0 else np.where(r >= finite, 1.0, -1.0)
    angle = np.arctan2(centre[:, 1] * way, centre[:, 0] * way)
    return np.where(_within(angle, arcs, j, 1e-6), value, np.inf)


def _within(angle: Array, arcs: Arcs, j: Array, more: float) -> Array:
    turn = np.abs((angle - arcs.middle[j] + np.pi) % (2 * np.pi) - np.pi)
    return turn <= arcs.half[j] + more
