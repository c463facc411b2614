"""Which obstacles may meet the disc of which node: by cells of the plane, by levels, by rows of cuts; all in arrays."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from recognizer.access.obstacles import Arcs, Nodes, Segments

Array = np.ndarray
GRAZE = 1e-6
"""A top level that is higher by less (mm) is the same level."""
ROW_OF_CELLS = 1_000_003
MOST_CELLS = 4096
"""An obstacle over more cells than this is looked at from every cell."""
CHUNK = 16_384
"""Pairs of node and obstacle handed out at a time: small enough to stay in the processor's cache."""


class Near:
    """Pairs of nodes and obstacles within a reach of one another. Nodes are those of `nodes`, in their order."""

    def __init__(self, nodes: Nodes, segments: Segments, arcs: Arcs, tops: Array, reach: float) -> None:
        """tops: top level of each row of cuts, ascending. reach: mm."""
        self.nodes, self.tops, self.reach = nodes, tops, reach
        self._segments, self._arcs = segments, arcs
        cell = np.floor(nodes.p / reach).astype(np.int64)
        self.keys, self.cell = np.unique(cell[:, 0] * ROW_OF_CELLS + cell[:, 1], return_inverse=True)
        self._rows: dict[str, tuple[Array, Array]] = {}

    def segments(self) -> Iterator[tuple[Array, Array]]:
        """(node, segment) of pairs, nodes ascending, some thousands at a time."""
        s = self._segments
        low, high = np.minimum(s.a, s.b), np.maximum(s.a, s.b)
        edges, cuts = np.flatnonzero(s.row < 0), np.flatnonzero(s.row >= 0)
        if len(edges):
            yield from self._below(edges, low[edges], high[edges], s.top[edges])
        if len(cuts):
            yield from self._of_row(*self._by_row(cuts, low[cuts], high[cuts], s.row[cuts]))

    def arcs(self) -> Iterator[tuple[Array, Array]]:
        """(node, arc) of pairs."""
        a = self._arcs
        if len(a):
            reach = a.radius[:, None]
            low, high = a.centre - reach, a.centre + reach
            edges, feet = np.flatnonzero(a.row < 0), np.flatnonzero(a.row >= 0)
            if len(edges):
                yield from self._below(edges, low[edges], high[edges], a.top[edges])
            if len(feet):
                yield from self._of_row(*self._by_row(feet, low[feet], high[feet], a.row[feet]))

    def cuts_of_rows(self, k: Array, row: Array) -> Iterator[tuple[Array, Array]]:
        """(i, segment) of pairs of node k[i] with the cuts of row[i]; the cells are gone through once, however often asked."""
        if "cuts" not in self._rows:
            s = self._segments
            cuts = np.flatnonzero(s.row >= 0)
            low, high = np.minimum(s.a[cuts], s.b[cuts]), np.maximum(s.a[cuts], s.b[cuts])
            self._rows["cuts"] = self._by_row(cuts, low, high, s.row[cuts])
        yield from self._paired(k, row, *self._rows["cuts"])

    def arcs_of_rows(self, k: Array, row: Array) -> Iterator[tuple[Array, Array]]:
        """(i, arc) of pairs of node k[i] with the arcs of row[i]."""
        if "arcs" not in self._rows:
            a = self._arcs
            feet = np.flatnonzero(a.row >= 0)
            reach = a.radius[feet, None]
            self._rows["arcs"] = self._by_row(feet, a.centre[feet] - reach, a.centre[feet] + reach, a.row[feet])
        yield from self._paired(k, row, *self._rows["arcs"])

    def _below(self, names: Array, low: Array, high: Array, top: Array) -> Iterator[tuple[Array, Array]]:
        """Obstacles whose top is above the node's level."""
        owner, at = self._in_cells(low, high)
        order = np.lexsort((-top[owner], at))
        owner, at = owner[order], at[order]
        start = np.searchsorted(at, np.arange(len(self.keys) + 1))
        # Within a cell the highest come first: a node meets the first few.
        ceiling = float(max(top.max(initial=0.0), self.nodes.level.max(initial=0.0))) + 1.0
        span = ceiling - float(min(top.min(initial=0.0), self.nodes.level.min(initial=0.0))) + 1.0
        place = at * span + (ceiling - top[owner])
        wanted = self.cell * span + (ceiling - self.nodes.level - GRAZE)
        first = start[self.cell]
        yield from expanded(first, np.searchsorted(place, wanted) - first, names[owner])

    def _by_row(self, names: Array, low: Array, high: Array, row: Array) -> tuple[Array, Array]:
        """(key of cell and row, name) of cuts, by key."""
        owner, at = self._in_cells(low, high)
        key = at * (len(self.tops) + 1) + row[owner]
        order = np.argsort(key, kind="stable")
        return key[order], names[owner[order]]

    def _of_row(self, key: Array, names: Array) -> Iterator[tuple[Array, Array]]:
        """Cuts at the first level above the node's."""
        row = np.searchsorted(self.tops, self.nodes.level + GRAZE, side="right")
        yield from self._paired(np.arange(len(row)), row, key, names)

    def _paired(self, k: Array, row: Array, key: Array, names: Array) -> Iterator[tuple[Array, Array]]:
        wanted = self.cell[k] * (len(self.tops) + 1) + row
        first = np.searchsorted(key, wanted)
        yield from expanded(first, np.searchsorted(key, wanted, side="right") - first, names)

    def _in_cells(self, low: Array, high: Array) -> tuple[Array, Array]:
        """(obstacle, cell) of all obstacles within reach of each cell."""
        if not len(self.keys):
            return np.empty(0, np.int64), np.empty(0, np.int64)
        if len(self.keys) == 1:
            return np.arange(len(low)), np.zeros(len(low), np.int64)
        first = np.floor(low / self.reach).astype(np.int64) - 1
        wide = np.floor(high / self.reach).astype(np.int64) + 2 - first
        count = wide[:, 0] * wide[:, 1]
        large = count > MOST_CELLS
        count = np.where(large, 0, count)
        owner = np.repeat(np.arange(len(low)), count)
        place = counting(count)
        key = (first[owner, 0] + place // wide[owner, 1]) * ROW_OF_CELLS + first[owner, 1] + place % wide[owner, 1]
        at = np.minimum(np.searchsorted(self.keys, key), len(self.keys) - 1)
        kept = self.keys[at] == key
        owner, at = owner[kept], at[kept]
        if large.any():
            everywhere = np.flatnonzero(large)
            owner = np.concatenate([owner, np.tile(everywhere, len(self.keys))])
            at = np.concatenate([at, np.repeat(np.arange(len(self.keys)), len(everywhere))])
        return owner, at


def expanded(first: Array, count: Array, names: Array) -> Iterator[tuple[Array, Array]]:
    """(i, names[first[i] + 0 .. count[i]]) for all i, in passes of about CHUNK pairs."""
    ends = np.cumsum(count)
    total = int(ends[-1]) if len(ends) else 0
    begin = 0
    while begin < len(count):
        done = ends[begin - 1] if begin else 0
        if done >= total:
            break
        stop = max(begin + 1, int(np.searchsorted(ends, done + CHUNK, side="right")))
        k = np.arange(begin, stop)
        i = np.repeat(k, count[k])
        if len(i):
            yield i, names[first[i] + counting(count[k])]
        begin = stop


def counting(count: Array) -> Array:
    """0, 1, ... for each entry of `count`, one after the other."""
    total = int(count.sum())
    return np.arange(total) - np.repeat(np.cumsum(count) - count, count)
