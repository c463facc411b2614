"""The material on a bundle of rays: intervals that belong to the part or are to be taken off, and cuts through them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from planner.proof.rays import Array, Bundle, spread

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
    if len(parts) == 1:
        return parts[0]
    return Cuts(*(np.concatenate([getattr(p, name) for p in parts]) for name in ("ray", "low", "high")))


def united(cuts: Cuts) -> Cuts:
    """The same stretches in order, those that overlap or touch made one."""
    if len(cuts) < 2:
        return cuts
    base = float(cuts.low.min())
    far = float(cuts.high.max()) - base + 1.0  # from one ray's coordinates to the next one's, all in one number
    zero = cuts.ray * far
    low = zero + (cuts.low - base)
    if (low[1:] < low[:-1]).any():
        order = np.argsort(low, kind="stable")
        cuts, low, zero = Cuts(cuts.ray[order], cuts.low[order], cuts.high[order]), low[order], zero[order]
    reach = np.maximum.accumulate(zero + (cuts.high - base))
    apart = low[1:] > reach[:-1]
    if apart.all():
        return Cuts(cuts.ray, cuts.low, reach - zero + base)
    first, last = np.concatenate([[True], apart]), np.concatenate([apart, [True]])
    return Cuts(cuts.ray[first], cuts.low[first], reach[last] - zero[first] + base)


def split(material: Intervals, cuts: list[Cuts]) -> tuple[Intervals, list[Intervals]]:
    """Material left, and material that each of the cuts takes, one after the other. No interval spans two pieces.

    material: in order of ray and coordinate; so are all answers.
    """
    every = all_cuts(cuts)
    if not len(every) or not len(material.ray):
        return material, [Intervals.none() for _ in cuts]
    owner = np.repeat(np.arange(len(cuts)), [len(c) for c in cuts])
    base, end = float(material.low.min()) - 1.0, float(material.high.max()) + 1.0
    far = end - base  # from one ray's coordinates to the next one's, all in one number
    starts, ends = material.ray * far + (material.low - base), material.ray * far + (material.high - base)
    low, high = every.ray * far, every.ray * far
    low, high = low + (np.clip(every.low, base, end) - base), high + (np.clip(every.high, base, end) - base)
    first = np.searchsorted(ends, low, side="right")
    last = np.searchsorted(starts, high, side="left")
    which, met = spread(first, last)  # an interval, and what sweeps some of it
    owner, low, high = owner[which], np.maximum(low[which], starts[met]), np.minimum(high[which], ends[met])
    n, none = len(starts), len(cuts)
    whole = (low <= starts[met] + NOTHING) & (high >= ends[met] - NOTHING)
    first_of_all, first_whole = _least(n, met, owner, none), _least(n, met[whole], owner[whole], none)
    plain = (first_whole == first_of_all) & (first_whole < none)
    own = np.flatnonzero((first_of_all < none) & ~plain)
    pairs = ~plain[met] & (owner <= first_whole[met])
    at, of, by = _shared_out(starts[own], ends[own], low[pairs], high[pairs], owner[pairs])
    of = own[of]
    zero = material.ray[of] * far - base
    found = Intervals(material.ray[of], at[0] - zero, at[1] - zero, material.piece[of])
    rest = by < 0
    left, place = _healed(found.take(rest), of[rest])
    # Rests of an interval stand where it stood among those that nothing touched.
    still = first_of_all == none
    left = _put(material.take(still), (np.cumsum(still) - still)[place], left)
    taken = joined([material.take(plain), found.take(~rest)])
    owner = np.concatenate([first_whole[plain], by[~rest]])
    order = np.argsort(owner * n + np.concatenate([np.flatnonzero(plain), of[~rest]]), kind="stable")
    taken, owner = _healed(taken.take(order), owner[order])
    bounds = np.searchsorted(owner, np.arange(none + 1))
    return left, [taken.take(slice(a, b)) for a, b in zip(bounds[:-1], bounds[1:], strict=True)]


def _least(count: int, where: Array, value: Array, none: int) -> Array:
    """(count,) the first value given for each place, `none` where there is none. value: never falling."""
    out = np.full(count, none)
    out[where[::-1]] = value[::-1]  # the last that is written stays
    return out


def _shared_out(
    starts: Array, ends: Array, low: Array, high: Array, owner: Array
) -> tuple[tuple[Array, Array], Array, Array]:
    """Intervals cut up where sweeps begin and end: ((start, end), interval that each is of, first that sweeps it or -1).

    starts, ends: of the intervals, in order, and low, high: of the sweeps; rays and coordinates in one number.
    """
    n, m = len(starts), len(low)
    # A stable sort keeps ends before starts at one place, so that two pieces which touch never count as one.
    at = np.concatenate([ends, low, high, starts])
    order = np.argsort(at, kind="stable")
    place = np.empty(len(at), dtype=np.int64)
    place[order] = np.arange(len(at))
    at = at[order]
    of = np.full(len(at), -1)
    which, inside = spread(place[n + 2 * m :], place[:n])
    of[inside] = which
    by = np.full(len(at), -1)
    # The last value written to a place stays: that of the first that sweeps it.
    which, swept = spread(place[n : n + m][::-1], place[n + m : n + 2 * m][::-1])
    by[swept] = owner[::-1][which]
    real = np.flatnonzero((of[:-1] >= 0) & (np.diff(at) > NOTHING))
    return (at[real], at[real + 1]), of[real], by[real]


def _put(into: Intervals, at: Array, more: Intervals) -> Intervals:
    """Intervals put before those that stand at some places."""
    spots = at + np.arange(len(at))
    old = np.ones(len(into.ray) + len(at), dtype=bool)
    old[spots] = False

    def both(a: Array, b: Array) -> Array:
        out = np.empty(len(old), dtype=a.dtype)
        out[old], out[spots] = a, b
        return out

    names = ("ray", "low", "high", "piece")
    return Intervals(*(both(getattr(into, name), getattr(more, name)) for name in names))


def _healed(found: Intervals, of: Array) -> tuple[Intervals, Array]:
    """Neighbours that touch, of one piece and with one number, made one; and the number of each."""
    if len(found.ray) < 2:
        return found, of
    apart = (
        (found.ray[1:] != found.ray[:-1])
        | (found.piece[1:] != found.piece[:-1])
        | (of[1:] != of[:-1])
        | (found.low[1:] > found.high[:-1] + NOTHING)
    )
    first = np.concatenate([[True], apart])
    last = np.concatenate([apart, [True]])
    return Intervals(found.ray[first], found.low[first], found.high[last], found.piece[first]), of[first]


@dataclass(frozen=True)
class Pieces:
    """The stock on a bundle, cut where it enters and leaves the part.

    own: (p,) whether the piece belongs to the part. face_low, face_high: (p,) face of the part at either end, -1 at the
    stock's own surface. square_low, square_high: (p,) cosine between the ray and that face's normal, 0 to 1. bad: (n,) rays on which the mesh did not close; they are left out.
    """

    bundle: Bundle
    low: Array
    high: Array
    own: Array
    face_low: Array
    face_high: Array
    square_low: Array
    square_high: Array
    bad: Array


@dataclass(frozen=True)
class Material:
    """What is there on one bundle, with the pieces that it came from."""

    pieces: Pieces
    there: Intervals

    def cut(self, cuts: list[Cuts]) -> tuple[Material, list[Intervals]]:
        """The material left, and what each of the cuts took, one after the other."""
        left, taken = split(self.there, cuts)
        return replace(self, there=left), taken

    def with_back(self, taken: list[Intervals]) -> Material:
        """The material as it was before some was taken."""
        whole = joined([self.there, *taken])
        order = np.lexsort((whole.low, whole.ray))
        return replace(self, there=whole.take(order))


Workpiece = tuple[Material, Material, Material]
"""The material on the bundles along x, y and z of the part's own frame."""
