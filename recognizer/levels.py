"""How far all edges and faces of a part reach along a direction: one numpy pass a direction."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import accumulate
from math import pi
from typing import TYPE_CHECKING

import numpy as np

from shared.units import Vector

if TYPE_CHECKING:
    from recognizer.edge_points import EdgePoints
    from recognizer.snapshot import Edge

AT_END_RAD = 1e-6
"""An arc's end counts as passed when it is this near."""


class Levels:
    """The points of a part's edges, its arcs and its bulging facets as arrays.

    edges: all edges, and their points; face_edges: edge indices of each face; bulging: (n, 3) corners of the facets of faces that rise
    beyond their edges.
    """

    def __init__(
        self,
        edges: Sequence[Edge],
        points: EdgePoints,
        face_edges: Sequence[Sequence[int]],
        bulging: dict[int, np.ndarray],
    ) -> None:
        self._points = np.ascontiguousarray(points.points.T)
        self._starts = np.array(points.first[:-1], dtype=int)
        self._arcs = _Arcs([e for e in edges if e.curve == "circle" and e.centre is not None and e.axis is not None])
        self._count = len(face_edges)
        self._bounded = np.array([i for i, own in enumerate(face_edges) if own], dtype=int)
        self._edge_of = np.array([e for own in face_edges for e in own], dtype=int)
        self._face_starts = _starts(len(own) for own in face_edges if own)
        self._bulging = np.array(list(bulging), dtype=int)
        corners = list(bulging.values())
        self._facets = np.ascontiguousarray(np.concatenate(corners).T) if corners else np.empty((3, 0))
        self._facet_starts = _starts(map(len, corners))

    def along(self, d: Vector) -> tuple[list[float], list[float]]:
        """Lowest and highest level of each face; inf and -inf for one with neither edges nor facets."""
        low, high = np.full(self._count, np.inf), np.full(self._count, -np.inf)
        if len(self._edge_of):
            edge_low, edge_high = self._edges(d)
            low[self._bounded] = np.minimum.reduceat(edge_low[self._edge_of], self._face_starts)
            high[self._bounded] = np.maximum.reduceat(edge_high[self._edge_of], self._face_starts)
        if len(self._bulging):
            v = _dots(self._facets, d)
            low[self._bulging] = np.minimum(low[self._bulging], np.minimum.reduceat(v, self._facet_starts))
            high[self._bulging] = np.maximum(high[self._bulging], np.maximum.reduceat(v, self._facet_starts))
        return (low + 0.0).tolist(), (high + 0.0).tolist()  # no minus zero: it would be written into the document

    def _edges(self, d: Vector) -> tuple[np.ndarray, np.ndarray]:
        v = _dots(self._points, d)
        low, high = np.minimum.reduceat(v, self._starts), np.maximum.reduceat(v, self._starts)
        index, bottom, top = self._arcs.extremes(d)
        low[index] = np.minimum(low[index], bottom)
        high[index] = np.maximum(high[index], top)
        return low, high


class _Arcs:
    """Circular edges: centres, unit vectors to the start and across it in running direction, radii and sweeps."""

    def __init__(self, edges: Sequence[Edge]) -> None:
        self.index = np.array([e.index for e in edges], dtype=int)
        self.centre = _columns([e.centre for e in edges if e.centre])
        self.axis = _columns([e.axis for e in edges if e.axis])
        self.radius = np.array([e.radius for e in edges])
        self.sweep = np.array([e.length / (e.radius or 1.0) for e in edges])
        start = np.array([e.points[0] for e in edges]).reshape(-1, 3) - self.centre.T
        step = np.array([e.points[1] for e in edges]).reshape(-1, 3) - self.centre.T
        across = np.cross(self.axis.T, start)
        across *= np.where((across * step).sum(axis=1) < 0, -1.0, 1.0)[:, None]
        self.start, self.across = start.T, across.T

    def extremes(self, d: Vector) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Edge indices with the levels of the circle's lowest and highest point, where these lie on the arc."""
        if not len(self.index):
            return self.index, np.array([]), np.array([])
        lean = _dots(self.axis, d)
        way = np.array(d)[:, None] - self.axis * lean
        size = np.sqrt(way[0] * way[0] + way[1] * way[1] + way[2] * way[2])
        rise, middle = self.radius * size, _dots(self.centre, d)
        along, beside = (self.start * way).sum(axis=0), (self.across * way).sum(axis=0)
        tilted = size > 1e-9
        top = np.where(tilted & self._on(beside, along), middle + rise, -np.inf)
        bottom = np.where(tilted & self._on(-beside, -along), middle - rise, np.inf)
        return self.index, bottom, top

    def _on(self, beside: np.ndarray, along: np.ndarray) -> np.ndarray:
        angle = np.arctan2(beside, along) % (2 * pi)
        return (angle < self.sweep + AT_END_RAD) | (angle > 2 * pi - AT_END_RAD)


def _columns(points: Sequence[Vector]) -> np.ndarray:
    """(3, n) array of n points."""
    return np.ascontiguousarray(np.array(points, dtype=float).reshape(-1, 3).T)


def _starts(counts: Iterable[int]) -> np.ndarray:
    """Where each run begins, for reduceat."""
    return np.array([0, *accumulate(counts)][:-1], dtype=int)


def _dots(columns: np.ndarray, d: Vector) -> np.ndarray:
    """Levels along d, summed in the order of `vector.dot`, so that both give the same bits."""
    return columns[0] * d[0] + columns[1] * d[1] + columns[2] * d[2]
