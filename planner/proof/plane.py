"""The plane across a cutting direction, in the part's own frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.proof.rays import Array

PARALLEL = 1.0 - 1e-9


@dataclass(frozen=True)
class Plane:
    """Axes u and v across a direction d, all (3,) unit vectors in the frame.

    axis: index of the frame's axis that d runs along, None where it is oblique. sign: +1 or -1 along that axis. Then u
    and v are the next two axes of the frame, whatever the sign: a region keeps its coordinates when it is seen from
    behind, and a level along d is sign times the coordinate.
    """

    d: Array
    u: Array
    v: Array
    axis: int | None
    sign: float

    def flat(self, points: Array) -> Array:
        """(..., 2) coordinates of (..., 3) points. Along an axis they are the points' own."""
        if self.axis is not None:
            return points[..., [(self.axis + 1) % 3, (self.axis + 2) % 3]]
        return points @ np.array([self.u, self.v]).T

    def levels(self, points: Array) -> Array:
        """(...,) levels along the direction of (..., 3) points."""
        return self.sign * points[..., self.axis] if self.axis is not None else points @ self.d

    def point(self, q: Array, level: float) -> Array:
        """The (3,) point with these coordinates at a level along d."""
        return q[0] * self.u + q[1] * self.v + level * self.d


def plane_of(direction: Array) -> Plane:
    """The plane across a unit vector of the frame."""
    d = np.asarray(direction, dtype=float)
    d = d / np.linalg.norm(d)  # a document keeps six decimals
    k = int(np.argmax(np.abs(d)))
    if abs(d[k]) > PARALLEL:
        axes = np.eye(3)
        sign = float(np.sign(d[k]))
        return Plane(sign * axes[k], axes[(k + 1) % 3], axes[(k + 2) % 3], k, sign)
    other = np.eye(3)[(k + 1) % 3]
    u = np.cross(other, d)
    u /= np.linalg.norm(u)
    return Plane(d, u, np.cross(d, u), None, 1.0)
