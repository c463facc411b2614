"""Which way leaning faces fall: a region's side is shut by one only where it rises outwards."""

from __future__ import annotations

import numpy as np

from recognizer.outline import Plane2, Point
from recognizer.rule import Context

ALONG = 0.2
"""A slope whose fall runs along the side to within this cosine neither rises nor falls there: the end of a vee groove."""


class Slopes:
    """The leaning faces of a body, seen along a direction."""

    def __init__(self, ctx: Context, leans: frozenset[int], plane: Plane2) -> None:
        self.ctx, self.leans, self.plane = ctx, leans, plane
        self.known: dict[int, tuple[np.ndarray, np.ndarray]] = {}

    def rises(self, face: int, a: Point, b: Point) -> bool:
        """Whether a face rises out of the region at the stretch a to b of its clockwise outline; upright ones do."""
        if face not in self.leans:
            return True
        fall = self._fall(face, ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2))
        if fall is None:
            return True
        out = np.array((a[1] - b[1], b[0] - a[0]))
        return float(fall @ out) < -ALONG * float(np.hypot(*fall) * np.hypot(*out))

    def _fall(self, face: int, at: Point) -> np.ndarray | None:
        """The way a face falls near a point: its normal seen along the direction."""
        f = self.ctx.faces[face]
        if f.kind == "plane":
            return np.array(self.plane.at(f.surface.axis))
        if face not in self.known:
            self.known[face] = self._facets(face)
        middles, ways = self.known[face]
        if not len(middles):
            return None
        return ways[int(np.hypot(*(middles - at).T).argmin())]

    def _facets(self, face: int) -> tuple[np.ndarray, np.ndarray]:
        """(middles, falls) of a curved face's facets, (n, 2) each."""
        corners = self.ctx.snapshot.facet_arrays.get(face)
        if corners is None or not len(corners):
            return np.zeros((0, 2)), np.zeros((0, 2))
        across = np.array([self.plane.u, self.plane.v]).T
        ways = self.ctx.snapshot.facet_normals[face] @ across
        real = ~np.isnan(ways).any(axis=1)
        return corners.mean(axis=1)[real] @ across, ways[real]
