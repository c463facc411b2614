"""What can stop a cutter, and the points of faces that ask, as arrays in the plane across a direction."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

Array = np.ndarray


@dataclass(frozen=True)
class Segments:
    """Straight obstacles: ends (n, 2); they stop a tip below `top`; face; slack: mm they may lie off.

    row: of a cut through a leaning face the index of its level, and it stops only tips of that row; -1: an edge, which
    stops all below it. rise: level of b less that of a; what of a slanted edge lies below the tip does not count.
    """

    a: Array
    b: Array
    top: Array
    face: Array
    slack: Array
    row: Array
    rise: Array

    def __len__(self) -> int:
        return len(self.top)

    def some(self, k: Array) -> Segments:
        """A selection."""
        return Segments(self.a[k], self.b[k], self.top[k], self.face[k], self.slack[k], self.row[k], self.rise[k])

    def within(self, low: Array, high: Array) -> Segments:
        """Those whose boxes meet a box (2,) to (2,)."""
        near = (np.maximum(self.a, self.b) > low).all(axis=1) & (np.minimum(self.a, self.b) < high).all(axis=1)
        return self.some(np.flatnonzero(near))


@dataclass(frozen=True)
class Arcs:
    """Arcs of circles: centre (n, 2), radius, middle angle and half span in rad, top level, face; row as of segments."""

    centre: Array
    radius: Array
    middle: Array
    half: Array
    top: Array
    face: Array
    row: Array

    def __len__(self) -> int:
        return len(self.top)

    def some(self, k: Array) -> Arcs:
        """A selection."""
        return Arcs(*(getattr(self, name)[k] for name in ARC_FIELDS))


@dataclass(frozen=True)
class Nodes:
    """Points of faces: p and n (k, 2) in the plane across the direction, level, slack in mm."""

    p: Array
    n: Array
    level: Array
    slack: Array

    def __len__(self) -> int:
        return len(self.level)

    @cached_property
    def foot(self) -> Array:
        """(k,) how far along its normal each node stands."""
        return self.n[:, 0] * self.p[:, 0] + self.n[:, 1] * self.p[:, 1]

    def some(self, k: Array) -> Nodes:
        """A selection."""
        return Nodes(self.p[k], self.n[k], self.level[k], self.slack[k])


ARC_FIELDS = ("centre", "radius", "middle", "half", "top", "face", "row")


def joined(one: Arcs, two: Arcs) -> Arcs:
    """Both."""
    return Arcs(*(np.concatenate([getattr(one, name), getattr(two, name)]) for name in ARC_FIELDS))
