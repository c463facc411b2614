"""What of the part stands above a level, as one outline in the plane across a direction.

Over every point of material, higher up, lies a face that looks along the direction: so the projections of those faces, cut
off at the level, cover all that a cutter with its tip on the level can run into.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
import shapely
from shapely import STRtree
from shapely.geometry.base import BaseGeometry

from recognizer.access.overhead import piece_polygons
from recognizer.access.scene import FOOT_MM, UPRIGHT, Scene

Array = np.ndarray


class Material:
    """Faces that look along one direction, ready to be cut at levels."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.pieces = np.flatnonzero(scene.cosine > UPRIGHT)

    @cached_property
    def polygons(self) -> Array:
        """Projection of each."""
        return piece_polygons(self.scene, self.pieces)

    @cached_property
    def tree(self) -> STRtree:
        """Index of the projections."""
        return STRtree(self.polygons)

    @cached_property
    def spans(self) -> tuple[Array, Array]:
        """Lowest and highest level of each."""
        low, high = self.scene.spans
        return low[self.pieces], high[self.pieces]

    def height(self, p: Array) -> Array:
        """(n,) highest level of the part at places (n, 2); minus infinity beside it."""
        out = np.full(len(p), -np.inf)
        if not len(self.pieces) or not len(p):
            return out
        k, c = self.tree.query(shapely.points(p), predicate="intersects")
        normal = self.scene.mesh.pieces.normal[self.pieces[c]] @ self.scene.axes
        first = np.searchsorted(self.scene.mesh.pieces.side_piece, self.pieces[c])
        offset = (normal * self.scene.side_a[first]).sum(axis=1)
        np.maximum.at(out, k, (offset - (normal[:, :2] * p[k]).sum(axis=1)) / normal[:, 2])
        return out

    def near(self, box: tuple[float, float, float, float], level: float) -> BaseGeometry:
        """The outline of what stands above a level within a box (x0, y0, x1, y1)."""
        k = self.tree.query(shapely.box(*box))
        low, high = self.spans
        level += FOOT_MM
        k = np.sort(k[high[k] > level])
        if not len(k):
            return shapely.Polygon()
        whole = low[k] >= level - 2 * FOOT_MM
        shapes = [self._whole(k[whole], box), self._cut(k[~whole], level, box)]
        return shapely.union_all(np.concatenate(shapes))

    def _whole(self, k: Array, box: tuple[float, float, float, float]) -> Array:
        """Projections of faces that lie above the level as a whole; the facets of one face joined."""
        pieces = self.scene.mesh.pieces
        chosen = self.pieces[k]
        curved = pieces.curved[chosen]
        plain = shapely.clip_by_rect(self.polygons[k[~curved]], *box)
        faces = pieces.face[chosen[curved]]
        joined = [_joined(self.polygons[k[curved][faces == f]]) for f in np.unique(faces)]
        return np.concatenate([plain, np.array(joined, object)])

    def _cut(self, k: Array, level: float, box: tuple[float, float, float, float]) -> Array:
        """Of leaning faces what lies above the level: their projection on one side of the cut's line."""
        pieces = self.scene.mesh.pieces
        side = np.array(box).reshape(2, 2)
        middle, half = side.mean(axis=0), 2 * float(np.linalg.norm(side[1] - side[0]))
        out = []
        for i in k:
            normal = pieces.normal[self.pieces[i]] @ self.scene.axes
            first = np.searchsorted(pieces.side_piece, self.pieces[i])
            offset = normal @ self.scene.side_a[first] - normal[2] * level
            flat = np.linalg.norm(normal[:2])
            # The level is passed where normal[:2] . p = offset; higher where it is less.
            out.append(self.polygons[i].intersection(_half_plane(-normal[:2] / flat, -offset / flat, middle, half)))
        return np.array(out, object)


def _half_plane(n: Array, offset: float, middle: Array, half: float) -> BaseGeometry:
    """Of a square round `middle` of half side `half`, turned along n, where n . p > offset."""
    across = np.array([-n[1], n[0]])
    foot = middle + n * (offset - n @ middle)
    top = middle + n * max(half, offset - n @ middle)
    return shapely.Polygon([foot - across * half, foot + across * half, top + across * half, top - across * half])


def _joined(facets: Array) -> BaseGeometry:
    """Facets of one face as one outline: they meet side by side, unless the face folds back over itself."""
    try:
        made = shapely.coverage_union_all(facets)
    except shapely.errors.GEOSException:
        return shapely.union_all(facets)
    return made if made.is_valid else shapely.union_all(facets)
