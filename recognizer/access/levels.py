"""At which levels faces are cut, in each direction, and the cuts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from recognizer.access.close import CloseBy, lean_before
from recognizer.access.laid import Laid
from recognizer.access.near import counting
from recognizer.access.roles import UPRIGHT

Array = np.ndarray
LEVEL_MM = 0.01
"""Levels closer than this are one."""
FOOT_MM = 1e-4
"""A cutter on a floor is looked at this far above it, so that the foot of a leaning wall is in its way."""
BANDS = 48
"""Most bands between levels; beyond that neighbouring levels are taken together, and the document says how far apart."""
LEAN_ROWS = 12
"""Rows over the whole height where anything leans."""
PLANE_ROWS = 10
"""Rows over the height of the lowest leaning plane."""
MOST_ROWS = 80
"""Most rows over the whole height for leaning planes."""
WALL_ROWS = 24
"""Most rows over the whole height for upright faces before which something leans; some ten over the lowest of them."""
MORE_LEVELS = 150
"""Most levels between rows at which leaning pieces are cut; beyond, neighbouring levels are taken together, upwards."""
FEW_BREAKS = 7
"""So few levels are all looked at on every face."""


@dataclass(frozen=True)
class Merged:
    """By (face, band of its direction): whether the band stands for its group, bottom and top of the group, and whether its
    finer bands stand for themselves instead.
    """

    chosen: Array
    bottom: Array
    top: Array
    fine: Array


class Levels(Laid):
    """Levels of all tiles in one ascending row: `breaks` where something begins or ends, bands between them, cuts."""

    @property
    def tops(self) -> Array:
        """Highest level of each face."""
        return self.boxes[1][:, 2]

    @cached_property
    def leaning(self) -> Array:
        """Which pieces lean: neither upright nor square to their direction; but for buried ones."""
        size = np.abs(self.cosine)
        return np.logical_and((size > UPRIGHT) & (size < 1 - UPRIGHT**2), ~self.buried_piece)

    @cached_property
    def leaning_up(self) -> Array:
        """Those of them that look along the direction."""
        return self.leaning & (self.cosine > 0)

    @cached_property
    def tile_leans(self) -> Array:
        """(k,) whether anything leans in each tile."""
        return np.any(self.leaning.reshape(self.count, -1), axis=1)

    @cached_property
    def spans(self) -> tuple[Array, Array]:
        """Lowest and highest level of each piece."""
        n = len(self.pieces.face)
        low, high = np.full(n, np.inf), np.full(n, -np.inf)
        a, b = self.pieces.side_a[:, 2], self.pieces.side_b[:, 2]
        np.minimum.at(low, self.pieces.side_piece, np.minimum(a, b))
        np.maximum.at(high, self.pieces.side_piece, np.maximum(a, b))
        return low, high

    @cached_property
    def breaks(self) -> Array:
        """Levels at which the material above may change: ends of straight edges, levels of circles across the direction."""
        lines = self.chords.kind == 0
        ends = (self.chords.a[lines, 2], self.chords.b[lines, 2], self.circles.centre[:, 2], self.low, self.high)
        z = np.sort(np.concatenate(ends))
        z = z[np.concatenate([[True], np.diff(z) > LEVEL_MM])]
        tile = self.tile_at(z)
        return np.concatenate([self._few_breaks(z[tile == k], k) for k in range(self.count)])

    def _few_breaks(self, z: Array, k: int) -> Array:
        step, low, high = LEVEL_MM, self.low[k], self.high[k]
        while len(z) > BANDS:
            step = max(2 * step, (high - low) / (8 * BANDS))
            z = z[np.concatenate([[True], np.diff(np.round((z - low) / step)) > 0])]
        return z if len(z) > 1 else np.array([low, max(high, low + LEVEL_MM)])

    @cached_property
    def break_tile(self) -> Array:
        """The tile of each break."""
        return self.tile_at(self.breaks)

    @cached_property
    def bands(self) -> Array:
        """(n, 2) bottom and top of each band between breaks."""
        k = np.flatnonzero(self.break_tile[1:] == self.break_tile[:-1])
        return np.stack([self.breaks[k], self.breaks[k + 1]], axis=1)

    @cached_property
    def lean_step(self) -> Array:
        """(k,) height of the finer bands of each tile; inf where nothing leans."""
        return np.where(self.tile_leans, (self.high - self.low) / LEAN_ROWS, np.inf)

    @cached_property
    def fine_bands(self) -> Array:
        """(n, 2) for what leans: bands cut into an odd number, so that the middles of bands are among the finer middles."""
        return self._cut_finer(self.lean_step)

    @cached_property
    def wall_bands(self) -> Array:
        """(n, 2) for upright faces before which something leans."""
        low, high = (level[:, 2] for level in self.boxes)
        walls = np.flatnonzero(self.merged.fine.any(axis=1))
        height = np.full(self.count, np.inf)
        np.minimum.at(height, walls // self.part_faces, (high - low)[walls])
        least = np.maximum(height / PLANE_ROWS, (self.high - self.low) / WALL_ROWS)
        return self._cut_finer(np.minimum(self.lean_step, least))

    @cached_property
    def band_of_wall(self) -> tuple[Array, Array]:
        """For each band of walls the coarse band of its own tile that it lies in, and whether in its middle."""
        middles, own = self.bands.mean(axis=1), self.wall_bands.mean(axis=1)
        band = np.searchsorted(self.bands[:, 0], own, "right") - 1
        first = np.searchsorted(self.tile_at(self.bands[:, 0]), np.arange(self.count))
        return band - first[self.tile_at(own)], np.abs(own - middles[band]) < 1e-3 * LEVEL_MM

    @cached_property
    def plane_bands(self) -> Array:
        """(n, 2) for leaning planes: so fine that the lowest of them is cut into some ten."""
        planes = np.flatnonzero(self.leaning_up & ~self.pieces.curved)
        low, high = self.spans
        height = np.full(self.count, np.inf)
        np.minimum.at(height, self.pieces.face[planes] // self.part_faces, (high - low)[planes])
        whole = self.high - self.low
        step = np.maximum(np.minimum(height / PLANE_ROWS, whole / LEAN_ROWS), whole / MOST_ROWS)
        return self._cut_finer(np.where(np.isfinite(height), step, np.inf))

    def _cut_finer(self, step: Array) -> Array:
        """The bands cut into an odd number each, no higher than about a step (k,) of their tile."""
        a, b = self.bands.T
        step = np.maximum(step, LEVEL_MM)[self.tile_at(a)]
        count = 2 * ((b - a) / (2 * step)).astype(int) + 1
        k, place = np.repeat(np.arange(len(a)), count), counting(count)
        height = ((b - a) / count)[k]
        bottom = a[k] + place * height
        return np.stack([bottom, np.where(place + 1 == count[k], b[k], bottom + height)], axis=1)

    @cached_property
    def rows(self) -> Array:
        """Levels in the middle of the finer bands, and hence of the bands."""
        return self.fine_bands.mean(axis=1)

    @property
    def spacing(self) -> float:
        """Height of the finest bands that leaning faces are cut into; 0 where nothing leans."""
        leans = self.tile_leans[self.tile_at(self.rows)]
        return float((self.fine_bands[:, 1] - self.fine_bands[:, 0])[leans].max(initial=0.0))

    @cached_property
    def merged(self) -> Merged:
        """Bands taken together for each face where nothing near it begins or ends between them."""
        many = np.bincount(self.break_tile, minlength=self.count)
        shape = (self.count, self.part_faces, int(many.max()) - 1)
        chosen, bottom, top = np.zeros(shape, bool), np.zeros(shape), np.zeros(shape)
        fine = lean_before(self, shape[2]).reshape(shape)
        close = CloseBy(self, self.pieces.face[np.abs(self.cosine) <= UPRIGHT]) if many.max() > FEW_BREAKS else None
        for k, count in enumerate(many.tolist()):
            breaks = self.breaks[self.break_tile == k]
            if close is None or count <= FEW_BREAKS:
                chosen[k, :, : count - 1], bottom[k, :, : count - 1], top[k, :, : count - 1] = (
                    True,
                    breaks[:-1],
                    breaks[1:],
                )
                continue
            keep, index = close.kept(k, breaks), np.arange(count)
            below = np.maximum.accumulate(np.where(keep, index, 0), axis=1)[:, :-1]
            above = np.minimum.accumulate(np.where(keep, index, count - 1)[:, ::-1], axis=1)[:, ::-1][:, 1:]
            low, high = breaks[below], breaks[above]
            middle = (low + high) / 2
            chosen[k, :, : count - 1] = (breaks[:-1] <= middle) & (middle < breaks[1:])
            one = np.zeros((self.part_faces, count), bool)
            np.logical_or.at(one, (np.arange(self.part_faces)[:, None], below), fine[k, :, : count - 1])
            fine[k, :, : count - 1] = np.take_along_axis(one, below, axis=1)
            bottom[k, :, : count - 1], top[k, :, : count - 1] = low, high
        return Merged(*(x.reshape(self.faces, -1) for x in (chosen, bottom, top, fine)))

    @cached_property
    def cut_levels(self) -> Array:
        """Rows, and the middles of leaning pieces between two rows: wherever a leaning face is asked, all are cut."""
        low, high = self.spans
        first, last = np.searchsorted(self.rows, low, "right"), np.searchsorted(self.rows, high, "right")
        k = np.flatnonzero(self.leaning_up & (first == last))
        tile = k // len(self.mesh.pieces.face)
        thin = (low + high)[k] / 2 - self.shift[tile, 2]
        rows = (self.plane_bands.mean(axis=1), self.wall_bands.mean(axis=1))
        levels = [self._few_levels(thin[tile == t], t) + self.shift[t, 2] for t in np.unique(tile).tolist()]
        return np.unique(np.concatenate([self.rows, *rows, *levels]))

    def _few_levels(self, thin: Array, k: int) -> Array:
        levels, step = np.unique(np.round(thin, 4)), 1e-4
        while len(levels) > MORE_LEVELS:
            step = max(2 * step, (self.high[k] - self.low[k]) / (4 * MORE_LEVELS))
            levels = np.unique(np.ceil(thin / step) * step)
        return levels

    @cached_property
    def cut_tops(self) -> Array:
        """Below which level each cut counts: its own, and a hair."""
        return self.cut_levels + FOOT_MM

    @cached_property
    def side_levels(self) -> tuple[Array, Array]:
        """Levels of the ends of sides, so rounded that sides that meet end on one level: a ring crosses a level an even number of
        times.
        """
        return np.round(self.pieces.side_a[:, 2], 7), np.round(self.pieces.side_b[:, 2], 7)

    def slices(
        self, pieces: Array, levels: Array, wanted: Callable[[Array, Array], Array] | None = None
    ) -> tuple[Array, ...]:
        """Cuts of pieces at levels: (piece, index of level, start (n, 2), end (n, 2), mm off) of each straight cut.

        wanted: tells of faces (n,) and indices of levels (n,) which are wanted.
        """
        p = self.pieces
        chosen = np.zeros(len(p.face), bool)
        chosen[pieces] = True
        side = np.flatnonzero(chosen[p.side_piece])
        one, two = (z[side] for z in self.side_levels)
        first = np.searchsorted(levels, np.minimum(one, two), "right")
        count = np.maximum(np.searchsorted(levels, np.maximum(one, two), "right") - first, 0)
        k = np.repeat(side, count)
        row = np.repeat(first, count) + counting(count)
        if wanted is not None:
            kept = wanted(p.face[p.side_piece[k]], row)
            k, row = k[kept], row[kept]
        return self.paired(k, row, levels[row] if len(row) else np.empty(0))

    def paired(self, side: Array, row: Array, level: Array) -> tuple[Array, ...]:
        """Crossings of sides with levels, joined two by two along the cut of their piece: as `slices`; off: where a cut ends
        on the chord of a bent rim.
        """
        pieces = self.pieces
        owner = pieces.side_piece[side]
        a, b = pieces.side_a[side], pieces.side_b[side]
        rise = b[:, 2] - a[:, 2]
        share = np.clip((level - a[:, 2]) / np.where(rise == 0, 1.0, rise), 0.0, 1.0)
        p = a[:, :2] + share[:, None] * (b[:, :2] - a[:, :2])
        normal = pieces.normal[owner]
        s = -normal[:, 1] * p[:, 0] + normal[:, 0] * p[:, 1]
        key = owner.astype(np.int64) * (int(row.max()) + 1 if len(row) else 1) + row
        order = np.lexsort((s, key))
        owner, row, p, key, off = owner[order], row[order], p[order], key[order], pieces.side_off[side[order]]
        if not len(key):
            return owner, row, p, p, off
        # Crossings of one piece at one level come in pairs; an odd one (a level that grazes a corner) is left out.
        index = np.arange(len(key))
        start = np.concatenate([[True], key[1:] != key[:-1]])
        place = index - np.maximum.accumulate(np.where(start, index, 0))
        lead = np.flatnonzero((place[:-1] % 2 == 0) & (key[:-1] == key[1:]))
        return owner[lead], row[lead], p[lead], p[lead + 1], np.maximum(off[lead], off[lead + 1])
