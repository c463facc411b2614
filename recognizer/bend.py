"""How two faces bend where they meet."""

from __future__ import annotations

from math import atan2, degrees

from recognizer.vector import cross, dot, length
from shared.tolerances import Tolerances
from shared.units import Vector

KNIFE_DEG = 179.0


def signed_bend(na: Vector, nb: Vector, tangent: Vector, forward: bool, tol: Tolerances) -> float:
    """Signed degrees between two faces' outward normals at an edge: + convex, - concave, 0 smooth.

    tangent: of the edge's curve; forward: whether the first face's loop runs along it.
    """
    x = cross(na, nb)
    size = degrees(atan2(length(x), dot(na, nb)))
    if size < tol.smooth_deg:
        return 0.0
    turn = dot(x, tangent) if forward else -dot(x, tangent)
    if size > KNIFE_DEG:
        return size  # faces back to back: material runs out to a knife's edge; a crack of no width is no cut's work
    return size if turn > 0 else -size
