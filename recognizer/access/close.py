"""Which levels count for a face: those at which an edge near it begins, ends or lies, told by cells, never too few; and all
those at which something leans before it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import STRtree

from recognizer.access.near import counting
from recognizer.access.roles import UPRIGHT

if TYPE_CHECKING:
    from recognizer.access.laid import Laid
    from recognizer.access.levels import Levels

Array = np.ndarray
NEAR_MM = 25.0
"""Edges nearer to a face than this count for its bands."""
PROUD_MM = 1e-3
"""What stands out before a wall by less does not."""
CELL_MM = 5.0
CELLS = 160
"""Most cells along a side of a tile."""


class CloseBy:
    """Edges near the boxes of faces, all tiles."""

    def __init__(self, laid: Laid, faces: Array) -> None:
        """faces: those that are asked for; the others keep the ends only."""
        self.laid, self.asked = laid, np.unique(faces)

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
        one = np.clip(_cells(self.laid.boxes[0][asked, :2] - NEAR_MM, corner, cell), 0, size)
        two = np.clip(_cells(self.laid.boxes[1][asked, :2] + NEAR_MM, corner, cell) + 1, 0, size)
        near = sums[:, two[:, 0], two[:, 1]] - sums[:, one[:, 0], two[:, 1]]
        near += sums[:, one[:, 0], one[:, 1]] - sums[:, two[:, 0], one[:, 1]]
        keep[asked - tile * n] |= (near > 0).T
        return keep


def lean_before(laid: Levels, most: int) -> Array:
    """(faces, most) in which bands of its direction something leans before an upright face: there what it leaves room for, and
    what it hides, changes all the way up.
    """
    out = np.zeros((laid.faces, most), bool)
    pieces, tall = laid.pieces, _tall(laid)
    wall = np.unique(pieces.face[(np.abs(laid.cosine) <= UPRIGHT) & ~laid.buried_piece])
    lean = np.unique(pieces.face[laid.leaning])
    if not len(wall) or not len(lean) or not tall.any():
        return out
    low, high = laid.boxes
    tree = STRtree(shapely.box(*(low[wall, :2] - NEAR_MM).T, *(high[wall, :2] + NEAR_MM).T))
    j, i = tree.query(shapely.box(*low[lean, :2].T, *high[lean, :2].T))
    i, j = wall[i], lean[j]
    before = _before(laid, i, j)
    i, j = i[before], j[before]
    bottom, top = np.maximum(low[i, 2], low[j, 2]), np.minimum(high[i, 2], high[j, 2])
    bands = laid.bands
    first, last = np.searchsorted(bands[:, 1], bottom, "right"), np.searchsorted(bands[:, 0], top)
    count = np.where(top > bottom, np.maximum(last - first, 0), 0)
    band = np.repeat(first, count) + counting(count)
    tile = laid.tile_at(bands[:, 0])
    place = np.arange(len(tile)) - np.searchsorted(tile, np.arange(laid.count))[tile]
    out[np.repeat(i, count), place[band]] = tall[band]
    return out


def _tall(laid: Levels) -> Array:
    """Which bands are cut finer for what leans."""
    return np.bincount(np.searchsorted(laid.bands[:, 0], laid.rows, "right") - 1, minlength=len(laid.bands)) > 1


def _before(laid: Levels, i: Array, j: Array) -> Array:
    """Which of two faces' boxes stand before an upright plane face, as far as anything of the box does; curved faces: all."""
    pieces = laid.pieces
    first = np.searchsorted(pieces.side_piece, np.arange(len(pieces.face)))
    normal, foot = np.full((laid.faces, 2), np.nan), np.zeros((laid.faces, 2))
    k = np.flatnonzero(~pieces.curved)
    normal[pieces.face[k]], foot[pieces.face[k]] = pieces.normal[k, :2], pieces.side_a[first[k], :2]
    low, high = laid.boxes
    rise = np.where(normal[i] > 0, high[j, :2], low[j, :2]) - foot[i]
    return ~((rise * normal[i]).sum(axis=1) <= PROUD_MM)


def _cells(p: Array, corner: Array, cell: float) -> Array:
    return np.floor((p - corner) / cell).astype(np.int64)


def _nearest(levels: Array, z: Array) -> Array:
    """Index of the level nearest to each z."""
    at = np.clip(np.searchsorted(levels, z), 1, len(levels) - 1)
    return np.where(z - levels[at - 1] < levels[at] - z, at - 1, at)
