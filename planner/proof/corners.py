"""Inner edges of the part, and what a round cutter must leave in them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from planner.proof.rays import Array
from planner.proof.scene import Scene

TURN = math.radians(20.0)
"""Smallest turn between two faces at an inner edge; below it they are one smooth surface in chords."""
SPARE = 1.3
"""What stays may be this much more than the closed form: the cutter's own path ends in the corner too."""


@dataclass(frozen=True)
class Corners:
    """Pieces of inner edges: ends (k, 2, 3) in the frame, the two faces (k, 2), and the free angle between them (k,)."""

    ends: Array
    faces: Array
    free: Array

    def of(self, faces: list[int]) -> Corners:
        """Those at some faces."""
        own = np.isin(self.faces, faces).any(axis=1)
        return Corners(self.ends[own], self.faces[own], self.free[own])

    def between(self, faces: list[int]) -> Corners:
        """Those with some faces on both sides."""
        own = np.isin(self.faces, faces).all(axis=1)
        return Corners(self.ends[own], self.faces[own], self.free[own])

    def hold(self, radius: float, at: Array, volume: float) -> bool:
        """Whether a rest can be what a cutter of this radius leaves here: near an edge, and no more than that.

        Plane geometry: a disc in a corner of free angle t touches its sides radius / tan(t / 2) off the corner, and
        leaves radius^2 (1 / tan(t / 2) - (pi - t) / 2).
        """
        if not len(self.ends):
            return False
        reach = radius / np.tan(0.5 * self.free)
        area = radius**2 * (1.0 / np.tan(0.5 * self.free) - 0.5 * (math.pi - self.free))
        length = np.linalg.norm(self.ends[:, 1] - self.ends[:, 0], axis=1) + radius
        near = self._distance(at) <= SPARE * reach
        return bool(near.any()) and volume <= SPARE * float((length * area).sum())

    def _distance(self, at: Array) -> Array:
        """Mm from a point to each piece."""
        a, along = self.ends[:, 0], self.ends[:, 1] - self.ends[:, 0]
        share = ((at - a) * along).sum(axis=1) / np.maximum((along**2).sum(axis=1), 1e-18)
        return np.linalg.norm(a + np.clip(share, 0.0, 1.0)[:, None] * along - at, axis=1)


def corners_of(scene: Scene) -> Corners:
    """All inner edges between two faces of the part."""
    points = np.unique(np.round(scene.corners.reshape(-1, 3), 5), axis=0, return_inverse=True)[1].reshape(-1, 3)
    half = np.stack([points, np.roll(points, -1, axis=1)], axis=2).reshape(-1, 2)
    owner = np.repeat(np.arange(len(points)), 3)
    key = np.sort(half, axis=1)
    order = np.lexsort((key[:, 1], key[:, 0]))
    same = np.flatnonzero((key[order][1:] == key[order][:-1]).all(axis=1))
    first, second = order[same], order[same + 1]
    a, b = owner[first], owner[second]
    start = scene.corners.reshape(-1, 3)[first]
    end = np.roll(scene.corners, -1, axis=1).reshape(-1, 3)[first]
    rises = ((scene.corners[b].mean(axis=1) - start) * scene.normals[a]).sum(axis=1) > 1e-9
    turn = np.arccos(np.clip((scene.normals[a] * scene.normals[b]).sum(axis=1), -1.0, 1.0))
    keep = rises & (turn > TURN) & (scene.face_of[a] != scene.face_of[b])
    faces = np.column_stack([scene.face_of[a], scene.face_of[b]])[keep]
    return Corners(np.stack([start, end], axis=1)[keep], faces, (math.pi - turn)[keep])
