"""The material on a bundle of rays: intervals that belong to the part or are to be taken off, and cuts through them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from planner.proof.fixtures import Extent
from planner.proof.rays import Array, Bundle

NOTHING = 1e-7
"""Mm: an interval shorter than this is the last bits' noise."""


@dataclass(frozen=True)
class Intervals:
    """Stretches of rays: ray, low, high, and `piece`, the stretch of the stock that each is a rest of. All (n,)."""

    ray: Array
    low: Array
    high: Array
    piece: Array

    @staticmethod
    def none() -> Intervals:
        """No stretch at all."""
        whole = np.empty(0, dtype=np.int64)
        return Intervals(whole, np.empty(0), np.empty(0), whole)

    def take(self, mask: Array | slice) -> Intervals:
        """Those that a mask, an index or a slice chooses."""
        return Intervals(self.ray[mask], self.low[mask], self.high[mask], self.piece[mask])

    @property
    def length(self) -> Array:
        """Mm each."""
        return self.high - self.low

    @property
    def middle(self) -> Array:
        """Coordinate half way along each."""
        return 0.5 * (self.low + self.high)


def joined(parts: list[Intervals]) -> Intervals:
    """All of several."""
    if not parts:
        return Intervals.none()
    return Intervals(*(np.concatenate([getattr(p, name) for p in parts]) for name in ("ray", "low", "high", "piece")))


@dataclass(frozen=True)
class Cuts:
    """Stretches that cutters sweep: ray, low, high, (n,) each; they may overlap."""

    ray: Array
    low: Array
    high: Array

    def __len__(self) -> int:
        return len(self.ray)


def all_cuts(parts: list[Cuts]) -> Cuts:
    """All of several."""
    if not parts:
        return Cuts(np.empty(0, dtype=np.int64), np.empty(0), np.empty(0))
    return Cuts(*(np.concatenate([getattr(p, name) for p in parts]) for name in ("ray", "low", "high")))


FAR = 1.0e5
"""Mm from one ray's coordinates to the next one's, where both are put into one number: more than any part is long."""


def split(material: Intervals, cuts: Cuts) -> tuple[Intervals, Intervals]:
    """Material left, and material that the cuts take: (left, taken). No interval spans two pieces.

    material: in order of ray and coordinate; so are both answers. Only the rays from the first cut to the last are
    looked at: what lies before and after is copied as it is.
    """
    if not len(cuts) or not len(material.ray):
        return material, Intervals.none()
    a, b = np.searchsorted(material.ray, [cuts.ray.min(), cuts.ray.max() + 1])
    left, taken = _split(material.take(slice(a, b)), cuts)
    if not len(taken.ray):
        return material, taken
    return joined([material.take(slice(0, a)), left, material.take(slice(b, None))]), taken


def _split(material: Intervals, cuts: Cuts) -> tuple[Intervals, Intervals]:
    """As split(). Events along each ray are sorted once; between two of them material is there or not, and swept or not."""
    starts, ends = material.ray * FAR + material.low, material.ray * FAR + material.high
    low, high = cuts.ray * FAR + cuts.low, cuts.ray * FAR + cuts.high
    first = np.searchsorted(ends, low, side="right")
    last = np.searchsorted(starts, high, side="left")
    meets = last > first
    if not meets.any():
        return material, Intervals.none()
    first, last, low, high = first[meets], last[meets], low[meets], high[meets]
    size = len(starts) + 1
    count = np.bincount(first, minlength=size) - np.bincount(last, minlength=size)
    touched = np.cumsum(count)[:-1] > 0
    own = np.flatnonzero(touched)
    near = material.take(own)
    n, m = len(own), len(low)
    # A stable sort keeps ends before starts at one place, so that two pieces which touch never count as one.
    at = np.concatenate([ends[own], low, high, starts[own]])
    step = np.zeros((2, len(at)), dtype=np.int32)
    step[0, :n], step[0, n + 2 * m :] = -1, 1
    step[1, n : n + m], step[1, n + m : n + 2 * m] = 1, -1
    source = np.full(len(at), -1)
    source[n + 2 * m :] = np.arange(n)
    order = np.argsort(at, kind="stable")
    at, source = at[order], np.maximum.accumulate(source[order])
    there, swept = np.cumsum(step[:, order], axis=1)
    inside = np.flatnonzero((there[:-1] > 0) & (np.diff(at) > NOTHING))
    of = source[inside]
    base = near.ray[of] * FAR
    every = Intervals(near.ray[of], at[inside] - base, at[inside + 1] - base, near.piece[of])
    gone = swept[inside] > 0
    rest, place = _healed(every.take(~gone), of[~gone])
    taken, _ = _healed(every.take(gone), of[gone])
    # Rests of an interval stand where it stood among those that nothing touched.
    return _put(material.take(~touched), own[place] - place, rest), taken


def _put(into: Intervals, at: Array, more: Intervals) -> Intervals:
    """Intervals put before those that stand at some places."""
    pairs = ((getattr(into, name), getattr(more, name)) for name in ("ray", "low", "high", "piece"))
    return Intervals(*(np.insert(old, at, new) for old, new in pairs))


def _healed(found: Intervals, of: Array) -> tuple[Intervals, Array]:
    """Neighbours that touch within one piece made one, and what each came from."""
    if len(found.ray) < 2:
        return found, of
    apart = (
        (found.ray[1:] != found.ray[:-1])
        | (found.piece[1:] != found.piece[:-1])
        | (found.low[1:] > found.high[:-1] + NOTHING)
    )
    first = np.concatenate([[True], apart])
    last = np.concatenate([apart, [True]])
    return Intervals(found.ray[first], found.low[first], found.high[last], found.piece[first]), of[first]


@dataclass(frozen=True)
class Pieces:
    """The stock on a bundle, cut where it enters and leaves the part.

    own: (p,) whether the piece belongs to the part. face_low, face_high: (p,) face of the part at either end, -1 at the
    stock's own surface. bad: (n,) rays on which the mesh did not close; they are left out.
    """

    bundle: Bundle
    low: Array
    high: Array
    own: Array
    face_low: Array
    face_high: Array
    bad: Array


@dataclass(frozen=True)
class Material:
    """What is there on one bundle, with the pieces that it came from."""

    pieces: Pieces
    there: Intervals

    def cut(self, cuts: Cuts) -> tuple[Material, Intervals]:
        """The material left, and what the cuts took."""
        left, taken = split(self.there, cuts)
        return replace(self, there=left), taken


Workpiece = tuple[Material, Material, Material]
"""The material on the bundles along x, y and z of the part's own frame."""


def extent_of(piece: Workpiece) -> Extent:
    """How far the material reaches along an axis, between two levels along another."""

    def extent(axis: int, other: int, low: float, high: float) -> tuple[float, float] | None:
        material = piece[axis]
        there, bundle = material.there, material.pieces.bundle
        if other != axis:
            at = (bundle.u if other == (axis + 1) % 3 else bundle.v)[there.ray]
            there = there.take((at >= low) & (at <= high))
        return (float(there.low.min()), float(there.high.max())) if len(there.ray) else None

    return extent
