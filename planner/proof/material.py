"""The material on a bundle of rays: intervals that belong to the part or are to be taken off, and cuts through them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

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

    def take(self, mask: Array) -> Intervals:
        """Those that a mask or an index chooses."""
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


def split(material: Intervals, cuts: Cuts, rays: int) -> tuple[Intervals, Intervals]:
    """Material left, and material that the cuts take: (left, taken). No interval spans two pieces.

    Events along each ray are sorted once; between two of them material is there or not, and swept or not.
    """
    hit = np.zeros(rays, dtype=bool)
    hit[cuts.ray] = True
    chosen = hit[material.ray]
    near, far = material.take(chosen), material.take(~chosen)
    if not len(near.ray) or not len(cuts):
        return material, Intervals.none()
    ray = np.concatenate([near.ray, near.ray, cuts.ray, cuts.ray])
    at = np.concatenate([near.low, near.high, cuts.low, cuts.high])
    n, m = len(near.ray), len(cuts)
    there = np.concatenate([np.ones(n, np.int32), -np.ones(n, np.int32), np.zeros(2 * m, np.int32)])
    swept = np.concatenate([np.zeros(2 * n, np.int32), np.ones(m, np.int32), -np.ones(m, np.int32)])
    # Ends before starts at one place, so that two pieces which touch never count as one.
    order = np.lexsort((there, at, ray))
    ray, at = ray[order], at[order]
    owner = np.concatenate([near.piece, np.zeros(n + 2 * m, np.int64)])[order]
    there, swept = there[order], np.cumsum(swept[order])
    latest = np.maximum.accumulate(np.where(there > 0, np.arange(len(at)), 0))
    inside = (np.cumsum(there) > 0)[:-1] & (np.diff(at) > NOTHING) & (ray[1:] == ray[:-1])
    every = Intervals(ray[:-1], at[:-1], at[1:], owner[latest][:-1])
    left, taken = every.take(inside & (swept[:-1] == 0)), every.take(inside & (swept[:-1] > 0))
    return joined([far, left]), _healed(taken)


def _healed(found: Intervals) -> Intervals:
    """Neighbours that touch within one piece made one."""
    if len(found.ray) < 2:
        return found
    apart = (
        (found.ray[1:] != found.ray[:-1])
        | (found.piece[1:] != found.piece[:-1])
        | (found.low[1:] > found.high[:-1] + NOTHING)
    )
    first = np.concatenate([[True], apart])
    last = np.concatenate([apart, [True]])
    return Intervals(found.ray[first], found.low[first], found.high[last], found.piece[first])


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
        left, taken = split(self.there, cuts, self.pieces.bundle.count)
        return replace(self, there=left), taken
