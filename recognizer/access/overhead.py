"""Is there material above? Above free space, material begins at a face that turns its back on the direction.

So a point is hidden where the projection of such a face, higher up, covers it.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
import shapely
from shapely import STRtree
from shapely.geometry.base import BaseGeometry

from recognizer.access.scene import UPRIGHT, Scene

Array = np.ndarray
FRONT_MM = 0.02
"""A point of a wall is looked at from this far in front of it."""
ABOVE_MM = 0.005
FINE = 5
"""Chords of arcs are cut into so many: 2 degrees."""


class Overhead:
    """The ceilings of one direction."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.pieces = np.flatnonzero(scene.cosine < -UPRIGHT)

    @cached_property
    def polygons(self) -> Array:
        """Projection of each ceiling."""
        return piece_polygons(self.scene, self.pieces)

    @cached_property
    def tree(self) -> STRtree:
        """Index of the projections."""
        return STRtree(self.polygons)

    @cached_property
    def _planes(self) -> tuple[Array, Array]:
        """(normal in (u, v, level), offset) of each ceiling's plane."""
        pieces = self.scene.mesh.pieces
        normal = pieces.normal[self.pieces] @ self.scene.axes
        first = np.searchsorted(pieces.side_piece, self.pieces)
        return normal, (normal * self.scene.side_a[first]).sum(axis=1)

    @cached_property
    def highest(self) -> Array:
        """Highest level of each ceiling."""
        top = np.full(len(self.scene.mesh.pieces.face), -np.inf)
        np.maximum.at(top, self.scene.mesh.pieces.side_piece, self.scene.side_a[:, 2])
        return top[self.pieces]

    def over(self, p: Array, level: Array) -> Array:
        """(n,) face that hides each point, -1 where none does. p: (n, 2)."""
        hidden = np.full(len(p), -1)
        if not len(self.pieces) or not len(p) or self.highest.max() < level.min() + ABOVE_MM:
            return hidden
        k, c = self._pairs(p, level)
        if not len(k):
            return hidden
        normal, offset = self._planes
        z = (offset[c] - normal[c, 0] * p[k, 0] - normal[c, 1] * p[k, 1]) / normal[c, 2]
        above = z > level[k] + ABOVE_MM
        hidden[k[above]] = self.scene.mesh.pieces.face[self.pieces[c[above]]]
        return hidden

    def _pairs(self, p: Array, level: Array) -> tuple[Array, Array]:
        high = np.flatnonzero(self.highest > level.min() + ABOVE_MM)
        if len(high) <= 8:
            found = [(np.flatnonzero(shapely.intersects_xy(self.polygons[c], p[:, 0], p[:, 1])), c) for c in high]
            k = np.concatenate([f for f, _ in found])
            return k, np.repeat([c for _, c in found], [len(f) for f, _ in found])
        k, c = self.tree.query(shapely.points(p), predicate="intersects")
        return k, c

    def over_lines(self, a: Array, b: Array, level: Array) -> Array:
        """(n,) face that hides the whole of each level line a (n, 2) to b, where one does; -1 elsewhere."""
        hidden = np.full(len(a), -1)
        if not len(self.pieces) or not len(a) or self.highest.max() < level.min() + ABOVE_MM:
            return hidden
        k, c = self.tree.query(shapely.linestrings(np.stack([a, b], axis=1)), predicate="covered_by")
        normal, offset = self._planes
        ends = [(offset[c] - normal[c, 0] * p[k, 0] - normal[c, 1] * p[k, 1]) / normal[c, 2] for p in (a, b)]
        above = np.minimum(*ends) > level[k] + ABOVE_MM
        hidden[k[above]] = self.scene.mesh.pieces.face[self.pieces[c[above]]]
        return hidden

    def seen_part(self, polygon: BaseGeometry, level: float) -> tuple[BaseGeometry, list[int]]:
        """(what is seen of a flat region at a level, faces that hide the rest)."""
        if not len(self.pieces):
            return polygon, []
        near = [c for c in self.tree.query(polygon) if self.highest[c] > level + ABOVE_MM]
        if not near:
            return polygon, []
        areas = shapely.area(shapely.intersection(self.polygons[near], polygon))
        near = [c for c, a in sorted(zip(near, areas, strict=True), key=lambda t: (-round(t[1], 6), t[0])) if a > 1e-6]
        if not near:
            return polygon, []
        left = polygon.difference(shapely.union_all(self.polygons[near]))
        return left, list(dict.fromkeys(self.scene.mesh.pieces.face[self.pieces[near]].tolist()))


def piece_polygons(scene: Scene, chosen: Array) -> Array:
    """Projections of pieces as polygons; arcs of plane faces in chords of 2 degrees."""
    pieces = scene.mesh.pieces
    out = np.empty(len(chosen), object)
    curved = pieces.curved[chosen]
    if curved.any():
        first = np.searchsorted(pieces.side_piece, chosen[curved])
        corners = scene.side_a[first[:, None] + np.arange(3)][:, :, :2]
        out[curved] = shapely.polygons(corners)
    for i in np.flatnonzero(~curved):
        out[i] = face_polygon(scene, int(pieces.face[chosen[i]]))
    return out


def face_polygon(scene: Scene, face: int) -> BaseGeometry:
    """Projection of a plane face."""
    rings = [ring @ scene.axes[:, :2] for ring in fine_rings(scene, face)]
    rings = [r for r in rings if len(r) > 2]
    if not rings:
        return shapely.Polygon()
    made = shapely.Polygon(rings[0], rings[1:])
    return made if made.is_valid else made.buffer(0)


def fine_rings(scene: Scene, face: int) -> list[Array]:
    """Closed polylines (n, 3) of a face's loops, arcs in fine chords; kept with the mesh."""
    store = scene.mesh.rings
    if face not in store:
        snapshot = scene.mesh.snapshot
        store[face] = [
            np.array([p for e, forward in loop for p in _run(scene, e, forward)]).reshape(-1, 3)
            for loop in snapshot.faces[face].loops
        ]
    return store[face]


def _run(scene: Scene, index: int, forward: bool) -> list:
    """Points of an edge without its last, in loop order."""
    e = scene.mesh.snapshot.edges[index]
    points = e.points if forward else e.points[::-1]
    if e.curve != "circle" or e.centre is None:
        return list(points[:-1])
    c, q = np.array(e.centre), np.array(points)
    t = (np.arange(FINE) / FINE)[None, :, None]
    mid = q[:-1, None] * (1 - t) + q[1:, None] * t - c
    size = np.linalg.norm(mid, axis=2, keepdims=True)
    return list((c + mid / np.where(size > 0, size, 1.0) * e.radius).reshape(-1, 3))
