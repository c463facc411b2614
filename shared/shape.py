"""A part's shape as plain triangles: what the simulation cuts to and pictures are drawn from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


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
