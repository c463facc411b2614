"""Which levels count for a face: those at which an edge near it begins, ends or lies. Told by cells, never too few."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from recognizer.access.laid import Laid

Array = np.ndarray
NEAR_MM = 25.0
"""Edges nearer to a face than this count for its bands."""
CELL_MM = 5.0
CELLS = 160
"""Most cells along a side of a tile."""


class CloseBy:
    """Edges near the boxes of faces, all tiles."""

    def __init__(self, laid: Laid, faces: Array) -> None:
        """faces: those that are asked for; the others keep the ends only."""
        self.laid, self.asked = laid, np.unique(faces)

    @cached_property
    def _boxes(self) -> tuple[Array, Array]:
        laid = self.laid
        face = laid.pieces.face[laid.pieces.side_piece]
        low, high = np.full((laid.faces, 2), np.inf), np.full((laid.faces, 2), -np.inf)
        for axis in (0, 1):
            np.minimum.at(low[:, axis], face, laid.pieces.side_a[:, axis])
            np.maximum.at(high[:, axis], face, laid.pieces.side_a[:, axis])
        return low, high

    def kept(self, tile: int, breaks: Array) -> Array:
        """(faces of the part, breaks) whether an edge within NEAR_MM, or little more, of the face's box lies at the break."""
        laid, n = self.laid, self.laid.part_faces
        chords = slice(tile * len(laid.mesh.chords.edge), (tile + 1) * len(laid.mesh.chords.edge))
        a, b = laid.chords.a[chords], laid.chords.b[chords]
        low, high = np.minimum(a, b)[:, :2], np.maximum(a, b)[:, :2]
        corner = low.min(axis=0)
        cell = max(CELL_MM, float((high.max(axis=0) - corner).max()) / CELLS)
        first, last = _cells(low, corner, cell), _cells(high, corner, cell)
        size = last.max(axis=0) + 1
        full = np.zeros((len(breaks), size[0] + 1, size[1] + 1), np.int64)
        for z in (a[:, 2], b[:, 2]):
            at = _nearest(breaks, z)
            for x, y, sign in (
                (first, first, 1),
                (last + 1, first, -1),
                (first, last + 1, -1),
                (last + 1, last + 1, 1),
            ):
                np.add.at(full, (at, x[:, 0], y[:, 1]), sign)
        filled = full.cumsum(axis=1).cumsum(axis=2)[:, :-1, :-1] > 0
        sums = np.zeros_like(full)
        sums[:, 1:, 1:] = filled.cumsum(axis=1).cumsum(axis=2)
        keep = np.zeros((n, len(breaks)), bool)
        keep[:, [0, -1]] = True
        asked = self.asked[(self.asked >= tile * n) & (self.asked < (tile + 1) * n)]
        one = np.clip(_cells(self._boxes[0][asked] - NEAR_MM, corner, cell), 0, size)
        two = np.clip(_cells(self._boxes[1][asked] + NEAR_MM, corner, cell) + 1, 0, size)
        near = sums[:, two[:, 0], two[:, 1]] - sums[:, one[:, 0], two[:, 1]]
        near += sums[:, one[:, 0], one[:, 1]] - sums[:, two[:, 0], one[:, 1]]
        keep[asked - tile * n] |= (near > 0).T
        return keep


def _cells(p: Array, corner: Array, cell: float) -> Array:
    return np.floor((p - corner) / cell).astype(np.int64)


def _nearest(levels: Array, z: Array) -> Array:
    """Index of the level nearest to each z."""
    at = np.clip(np.searchsorted(levels, z), 1, len(levels) - 1)
    return np.where(z - levels[at - 1] < levels[at] - z, at - 1, at)
