"""A part's shape as plain triangles: what the simulation cuts to and pictures are drawn from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

DEFLECTION = 0.01
"""Mm that a triangle may lie off its face: a fifth of the tolerance that the simulation judges by."""


@dataclass(frozen=True)
class Shape:
    """A closed triangle mesh.

    points: (n, 3) mm, in the part's coordinates. triangles: (m, 3) indices into points, anticlockwise seen from
    outside. faces: (m,) index of the solid's face that each triangle lies on (`faces[].index` of the documents).
    deflection: mm that a triangle may lie off its face.
    """

    points: np.ndarray
    triangles: np.ndarray
    faces: np.ndarray
    deflection: float

    def corners(self) -> np.ndarray:
        """(m, 3, 3) corners of the triangles."""
        return self.points[self.triangles]

    def volume(self) -> float:
        """Mm3 inside, by the divergence theorem."""
        a, b, c = np.moveaxis(self.corners(), 1, 0)
        return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0)


class CarriedShape:
    """A part's shape, or the means to make it, carried along with its features document but no part of it.

    It is not written to JSON, two of them never make documents differ, and where a document is copied to another
    process the means stay behind: a kernel's solid cannot travel.
    """

    def __init__(self, source: Shape | Callable[[], Shape | None] | None = None) -> None:
        self._source = source

    def get(self) -> Shape | None:
        """The shape, made on first use; None where there is none."""
        if callable(self._source):
            self._source = self._source()
        return self._source

    def __eq__(self, other: object) -> bool:
        return isinstance(other, CarriedShape)

    __hash__ = None  # type: ignore[assignment]

    def __deepcopy__(self, memo: Any) -> CarriedShape:
        return self

    def __getstate__(self) -> dict[str, Any]:
        return {"_source": None if callable(self._source) else self._source}
