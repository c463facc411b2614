"""Projections of faces along their directions, and what of them lies above a level: what ceilings and material are made of."""

from __future__ import annotations

from functools import cached_property

import numpy as np
import shapely
from shapely import STRtree

from recognizer.access.rings import polygons_of
from recognizer.access.scene import Scene

Array = np.ndarray
Boxed = tuple[float, float, float, float]


class Shadows:
    """Pieces of faces that do not stand upright, seen along their directions."""

    def __init__(self, scene: Scene, pieces: Array) -> None:
        self.scene, self.pieces = scene, pieces

    @cached_property
    def polygons(self) -> Array:
        """Projection of each; arcs of plane faces in chords of 2 degrees."""
        pieces = self.scene.pieces
        out = np.empty(len(self.pieces), object)
        curved = pieces.curved[self.pieces]
        if curved.any():
            first = np.searchsorted(pieces.side_piece, self.pieces[curved])
            corners = pieces.side_a[first[:, None] + np.arange(3)][:, :, :2]
            out[curved] = shapely.polygons(corners)
        out[~curved] = polygons_of(self.scene, pieces.face[self.pieces[~curved]])
        return out

    @cached_property
    def corners(self) -> Array:
        """(n, 3, 2) corners of facets, counter-clockwise; nan for plane faces."""
        pieces = self.scene.pieces
        out = np.full((len(self.pieces), 3, 2), np.nan)
        curved = pieces.curved[self.pieces]
        first = np.searchsorted(pieces.side_piece, self.pieces[curved])
        t = pieces.side_a[first[:, None] + np.arange(3)][:, :, :2]
        e, f = t[:, 1] - t[:, 0], t[:, 2] - t[:, 0]
        clockwise = e[:, 0] * f[:, 1] < e[:, 1] * f[:, 0]
        t[clockwise] = t[clockwise][:, ::-1]
        out[curved] = t
        return out

    @cached_property
    def boxes(self) -> STRtree:
        """Index of the boxes of the projections."""
        t = self.corners
        low, high = t.min(axis=1), t.max(axis=1)
        flat = np.flatnonzero(np.isnan(low[:, 0]))
        bounds = shapely.bounds(self.polygons[flat])
        low[flat], high[flat] = bounds[:, :2], bounds[:, 2:]
        return STRtree(shapely.box(*low.T, *high.T))

    def inside(self, k: Array, p: Array) -> Array:
        """(n,) whether the place p[i] lies under piece k[i], or on its edge."""
        t, out = self.corners[k], np.ones(len(k), bool)
        for one, two in ((0, 1), (1, 2), (2, 0)):
            e, w = t[:, two] - t[:, one], p - t[:, one]
            out &= ~(e[:, 0] * w[:, 1] - e[:, 1] * w[:, 0] < -1e-9)
        flat = np.flatnonzero(np.isnan(t[:, 0, 0]))
        if len(flat):
            shapely.prepare(self.polygons[np.unique(k[flat])])
            out[flat] = shapely.intersects_xy(self.polygons[k[flat]], p[flat, 0], p[flat, 1])
        return out

    @cached_property
    def planes(self) -> tuple[Array, Array]:
        """(normal (n, 3) in (u, v, level), offset (n,)) of each one's plane."""
        pieces = self.scene.pieces
        normal = pieces.normal[self.pieces]
        first = np.searchsorted(pieces.side_piece, self.pieces)
        return normal, (normal * pieces.side_a[first]).sum(axis=1)

    @cached_property
    def spans(self) -> tuple[Array, Array]:
        """Lowest and highest level of each."""
        low, high = self.scene.spans
        return low[self.pieces], high[self.pieces]

    def levels_at(self, k: Array, p: Array) -> Array:
        """(n,) level of piece k[i]'s plane over the place p[i]."""
        normal, offset = self.planes
        return (offset[k] - normal[k, 0] * p[:, 0] - normal[k, 1] * p[:, 1]) / normal[k, 2]

    def cut(self, k: Array, level: float, box: Boxed) -> Array:
        """Of pieces that pass through a level what lies above it within a box: their projection on one side of a line."""
        if not len(k):
            return np.empty(0, object)
        side = np.array(box).reshape(2, 2)
        half = 2 * float(np.linalg.norm(side[1] - side[0]))
        normal, offset = self.planes
        # The level is passed where n . p + n_z level = offset; for a face that looks up the part is higher where n . p is less.
        sign = -np.sign(normal[k, 2])[:, None]
        flat = np.linalg.norm(normal[k, :2], axis=1)
        n = sign * normal[k, :2] / flat[:, None]
        foot = sign[:, 0] * (offset[k] - normal[k, 2] * level) / flat
        return shapely.intersection(self.polygons[k], _half_planes(n, foot, side.mean(axis=0), half))


def _half_planes(n: Array, offset: Array, middle: Array, half: float) -> Array:
    """For each n (k, 2): of a square round `middle` of half side `half`, turned along n, where n . p > offset."""
    across = np.stack([-n[:, 1], n[:, 0]], axis=1) * half
    beyond = offset - n @ middle
    foot = middle + n * beyond[:, None]
    top = middle + n * np.maximum(half, beyond)[:, None]
    return shapely.polygons(np.stack([foot - across, foot + across, top + across, top - across], axis=1))
