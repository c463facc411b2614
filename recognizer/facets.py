"""Triangles of curved faces, kept as arrays and given as plain tuples to those who ask for them so."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from shared.units import Vector

Corners = tuple[tuple[Vector, Vector, Vector], ...]
"""Three points, or three normals, for each facet of a face."""


class Facets(Mapping[int, Corners]):
    """Face -> its triangles. arrays: (n, 3, 3) corners of each face's triangles; nodes: (m, 3) the same corners, each
    once, where they are known.
    """

    def __init__(self, arrays: dict[int, np.ndarray], nodes: dict[int, np.ndarray] | None = None) -> None:
        self.arrays = arrays
        self.nodes = nodes or {}
        self._made: dict[int, Corners] = {}

    def __getitem__(self, face: int) -> Corners:
        if face not in self._made:
            self._made[face] = tuple(
                (tuple(a), tuple(b), tuple(c))
                for a, b, c in self.arrays[face].tolist()  # type: ignore[misc]
            )
        return self._made[face]

    def __iter__(self) -> Iterator[int]:
        return iter(self.arrays)

    def __len__(self) -> int:
        return len(self.arrays)

    def __contains__(self, face: object) -> bool:
        return face in self.arrays
