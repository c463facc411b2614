"""What of the part stands above a level, as one outline in the plane across a direction.

Over every point of material, higher up, lies a face that looks along the direction: so the projections of those faces, cut
off at the level, cover all that a cutter with its tip on the level can run into.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from recognizer.access.levels import FOOT_MM
from recognizer.access.roles import UPRIGHT
from recognizer.access.scene import Scene
from recognizer.access.shadows import Boxed, Shadows

Array = np.ndarray


class Material(Shadows):
    """Faces that look along their directions, all tiles, ready to be cut at levels."""

    def __init__(self, scene: Scene) -> None:
        super().__init__(scene, np.flatnonzero(scene.cosine > UPRIGHT))

    def height(self, p: Array) -> Array:
        """(n,) highest level of the part at places (n, 2); minus infinity beside it."""
        out = np.full(len(p), -np.inf)
        if not len(self.pieces) or not len(p):
            return out
        k, c = self.boxes.query(shapely.points(p))
        inside = np.flatnonzero(self.inside(c, p[k]))
        k, c = k[inside], c[inside]
        np.maximum.at(out, k, self.levels_at(c, p[k]))
        return out

    def near(self, box: Boxed, level: float) -> BaseGeometry:
        """The outline of what stands above a level within a box (x0, y0, x1, y1)."""
        k = self.boxes.query(shapely.box(*box))
        low, high = self.spans
        level += FOOT_MM
        k = np.sort(k[high[k] > level])
        if not len(k):
            return shapely.Polygon()
        whole = low[k] >= level - 2 * FOOT_MM
        shapes = [*self._whole(k[whole], level, box), self.cut(k[~whole], level, box)]
        return shapely.union_all(np.concatenate(shapes))

    def _whole(self, k: Array, level: float, box: Boxed) -> list[Array]:
        """Projections of pieces that lie above the level as a whole; the facets of one face joined."""
        curved = self._curved[k]
        plane, k = self.polygons[k[~curved]], k[curved]
        faces, first = np.unique(self._face[k], return_index=True)
        high = self._lowest[faces] >= level - 2 * FOOT_MM
        whole = [self._outline(f) for f in faces[high].tolist()]
        ends = np.append(first, len(k)).tolist()
        parts = [k[ends[i] : ends[i + 1]] for i in np.flatnonzero(~high).tolist()]
        joined = [_joined(self.polygons[part]) for part in parts]
        return [_clipped(np.concatenate([plane, np.array(whole, object)]), box), np.array(joined, object)]

    def _outline(self, face: int) -> BaseGeometry:
        """All facets of a face that look along the direction, joined."""
        if face not in self._outlines:
            first, last = np.searchsorted(self._face[self._facets], [face, face + 1])
            self._outlines[face] = _joined(self.polygons[self._facets[first:last]])
        return self._outlines[face]

    @cached_property
    def _outlines(self) -> dict[int, BaseGeometry]:
        return {}

    @cached_property
    def _curved(self) -> Array:
        return self.scene.pieces.curved[self.pieces]

    @cached_property
    def _face(self) -> Array:
        return self.scene.pieces.face[self.pieces]

    @cached_property
    def _facets(self) -> Array:
        """Those that are facets, in the order of their faces."""
        k = np.flatnonzero(self._curved)
        return k[np.argsort(self._face[k], kind="stable")]

    @cached_property
    def _lowest(self) -> Array:
        """(faces,) lowest level of each face's facets."""
        out = np.full(self.scene.faces, np.inf)
        k = self._facets
        np.minimum.at(out, self._face[k], self.spans[0][k])
        return out


def _clipped(shapes: Array, box: Boxed) -> Array:
    """What of outlines lies near a box. The fast way may fail where an outline touches itself."""
    try:
        return shapely.clip_by_rect(shapes, *box)
    except shapely.errors.GEOSException:
        return shapely.intersection(shapes, shapely.box(*box))


def _joined(facets: Array) -> BaseGeometry:
    """Facets of one face as one outline: they meet side by side, unless the face folds back over itself."""
    try:
        made = shapely.coverage_union_all(facets)
    except shapely.errors.GEOSException:
        return shapely.union_all(facets)
    return made if made.is_valid else shapely.union_all(facets)
