"""The points of a part's edges as one array: what is asked of all edges or of many loops takes a pass of numpy, not a
call for each.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import accumulate
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from recognizer.snapshot import Edge, Face


class EdgePoints:
    """points: (n, 3) of all edges, edge by edge. first: where each edge's begin, and their end at the end."""

    def __init__(self, edges: Sequence[Edge]) -> None:
        self.points = np.array([p for e in edges for p in e.points], dtype=float).reshape(-1, 3)
        self.first = [0, *accumulate(len(e.points) for e in edges)]
        self._begins = np.array(self.first)

    def rings(self, faces: Iterable[Face]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """All loops of three points and more of some faces: (n, 3) points as in `Snapshot.loop_points`, (n,) the ring
        that each belongs to, and (rings,) the place among the faces of the one that each ring bounds.
        """
        order: list[int] = []
        counts, owner = [], []
        for k, face in enumerate(faces):
            for loop in face.loops:
                begin = len(order)
                for e, forward in loop:
                    a, b = self.first[e], self.first[e + 1]
                    order += range(a, b - 1) if forward else range(b - 1, a, -1)
                if len(order) - begin > 2:
                    counts.append(len(order) - begin)
                    owner.append(k)
                else:
                    del order[begin:]
        return self.points[order], np.repeat(np.arange(len(counts)), counts), np.array(owner, dtype=int)

    def places(self, edges: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Where the points of some edges, given by their indices, stand in `points`, edge by edge; and how many each has."""
        first = self._begins[edges]
        counts = self._begins[edges + 1] - first
        return np.repeat(first - (np.cumsum(counts) - counts), counts) + np.arange(counts.sum()), counts

    def chords(self, edges: Sequence[Edge]) -> tuple[np.ndarray, np.ndarray]:
        """(n, 2, 3) ends of the chords of some edges, one after the other, and (edges,) how many each has."""
        index = np.array([e.index for e in edges], dtype=int)
        begins = self._begins[index]
        counts = self._begins[index + 1] - begins - 1
        step = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
        start = np.repeat(begins, counts) + step
        return np.stack([self.points[start], self.points[start + 1]], axis=1), counts
