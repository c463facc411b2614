"""Three bundles of parallel rays through the stock, and the material on them as exact intervals.

Every bundle runs along one of the part's own axes. Its rays stand on a square lattice that is turned by atan(3/4): in
steps of the resolution r the lattice vectors are (4, 3) and (-3, 4), so rays are 5 r apart, yet their rows along either
axis are r apart. A flat layer that is left is met by many rays square to it, which measure its thickness exactly;
a strip r wide along an axis is met every 25 r of its length.

All coordinates here are those of the part's own frame, mm.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from typing import Any, TypeVar

import numpy as np

Array = np.ndarray
T = TypeVar("T")

STEPS = 25
"""Lattice points in a square of 5 x 5 steps of the resolution: one; and in a row one every 25 steps."""
PHASE = (0.3819, 0.1459)
"""Shares of a step by which the lattice is moved, so that no ray runs in a face at a round coordinate."""


@dataclass(frozen=True)
class Bundle:
    """Rays along one axis. axis: 0, 1, 2. u, v: (n,) coordinates along the next two axes, in cyclic order. cell: mm2 a ray."""

    axis: int
    u: Array
    v: Array
    cell: float
    low: float
    high: float
    by_u: Rows = field(init=False)
    by_v: Rows = field(init=False)
    _made: dict[Hashable, Any] = field(init=False, repr=False, compare=False, default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_u", Rows(self.u, self.v))
        object.__setattr__(self, "by_v", Rows(self.v, self.u))

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """What `make` gives, made at the first call with this key."""
        if key not in self._made:
            self._made[key] = make()
        found: T = self._made[key]
        return found

    @property
    def count(self) -> int:
        """How many rays there are."""
        return len(self.u)

    def rows(self, axis: int) -> Rows:
        """The rays in rows of equal coordinate along an axis across the bundle."""
        return self.by_u if axis == (self.axis + 1) % 3 else self.by_v

    def in_disc(self, centre: Array, radius: float) -> Array:
        """Rays within a disc: centre (2,) along u and v."""
        first, last = np.searchsorted(self.by_v.levels, [centre[1] - radius, centre[1] + radius])
        row = np.arange(first, last)
        half = np.sqrt(np.maximum(radius**2 - (self.by_v.levels[row] - centre[1]) ** 2, 0.0))
        return self.by_v.between(row, centre[0] - half, centre[0] + half)[0]

    def points(self, rays: Array, at: Array) -> Array:
        """(k, 3) points at coordinate `at` along rays."""
        out = np.empty((len(rays), 3))
        out[:, self.axis] = at
        out[:, (self.axis + 1) % 3] = self.u[rays]
        out[:, (self.axis + 2) % 3] = self.v[rays]
        return out

    def levels(self, rays: Array, at: Array, direction: Array) -> Array:
        """(k,) levels along a direction (3,) of points at coordinate `at` along rays."""
        parts = (at, self.u, self.v)
        shares = [float(direction[(self.axis + k) % 3]) for k in range(3)]
        terms = [s * (p if k == 0 else p[rays]) for k, (s, p) in enumerate(zip(shares, parts, strict=True)) if s != 0.0]
        return np.sum(terms, axis=0) if len(terms) > 1 else terms[0]


class Rows:
    """Rays in rows: those of one row share a coordinate, and lie in it by the other one."""

    def __init__(self, row: Array, along: Array) -> None:
        self.levels, place = np.unique(row, return_inverse=True)
        self.low = float(along.min()) - 1.0 if len(along) else 0.0
        self.span = (float(along.max()) - self.low if len(along) else 0.0) + 2.0
        key = place * self.span + (along - self.low)
        self.order = np.argsort(key, kind="stable")
        self._keys = key[self.order]

    def between(self, row: Array, low: Array | float, high: Array | float) -> tuple[Array, Array]:
        """Rays of rows whose other coordinate lies in [low, high): (ray, which of the queries)."""
        which, place = spread(*self.range(row, low, high))
        return self.order[place], which

    def range(self, row: Array, low: Array | float, high: Array | float) -> tuple[Array, Array]:
        """Where in `order` rays of rows begin and end whose other coordinate lies in [low, high)."""
        base = np.asarray(row) * self.span
        start = np.searchsorted(self._keys, base + np.clip(np.asarray(low) - self.low, 0.0, self.span))
        return start, np.searchsorted(self._keys, base + np.clip(np.asarray(high) - self.low, 0.0, self.span))


def spread(start: Array, end: Array) -> tuple[Array, Array]:
    """All integers of ranges [start, end): (which range, integer)."""
    count = np.maximum(end - start, 0)
    which = np.repeat(np.arange(len(count)), count)
    first = np.cumsum(count) - count
    return which, np.arange(len(which)) - first[which] + np.asarray(start)[which]


def bundle(axis: int, low: Array, high: Array, resolution: float) -> Bundle:
    """Rays along an axis through the box from `low` to `high` ((3,) each)."""
    a, b = (axis + 1) % 3, (axis + 2) % 3
    nu, nv = (int(np.ceil((high[k] - low[k]) / resolution)) + 1 for k in (a, b))
    j = np.arange(nv)
    # Lattice points are those with i + 7 j = 0 modulo 25: it holds for (4, 3) and for (-3, 4).
    first = (-7 * j) % STEPS
    which, place = spread(np.zeros(nv, dtype=int), (nu - first + STEPS - 1) // STEPS)
    u = low[a] + resolution * (first[which] + STEPS * place + PHASE[0])
    v = low[b] + resolution * (which + PHASE[1])
    inside = (u < high[a]) & (v < high[b])
    count = int(inside.sum())
    # Each ray stands for an equal share of the block's section, so that the block itself has its exact volume.
    cell = float((high[a] - low[a]) * (high[b] - low[b])) / count if count else STEPS * resolution**2
    return Bundle(axis, u[inside], v[inside], cell, float(low[axis]), float(high[axis]))
