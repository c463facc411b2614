"""How far surfaces stand off their facets, and the arcs that angles cover."""

from __future__ import annotations

from math import cos, pi

import numpy as np

from recognizer.vector import dot, sub
from shared.units import Vector


def swept(angles: np.ndarray) -> tuple[float, float]:
    """(from, to) in radians of the arc on which angles lie: all but the widest gap between them."""
    a = np.unique((angles % (2 * pi)).round(9))
    gaps = np.append(a[1:], a[0] + 2 * pi) - a
    widest = int(gaps.argmax())
    start = float(a[(widest + 1) % len(a)])
    return start, start + 2 * pi - float(gaps[widest])


def bulge(t: tuple[Vector, Vector, Vector], normals: tuple[Vector, Vector, Vector], n: Vector) -> float:
    """Mean signed distance along n from a free form's facet to its surface, by the surface's slopes at the corners.

    Over an edge of length l with slopes a and b against the facet at its ends, a cubic stands l (a - b) / 8 off at the
    middle; 0 where a corner has no normal or a steep one.
    """
    total = 0.0
    for i, j in ((0, 1), (1, 2), (2, 0)):
        edge = sub(t[j], t[i])
        slopes = []
        for m in (normals[i], normals[j]):
            rise = dot(m, n)
            if abs(rise) < 0.5:
                return 0.0
            slopes.append(-dot(m, edge) / rise)
        total += (slopes[0] - slopes[1]) / 8
    return total / 3


def out_of(s, p: Vector) -> float | None:  # type: ignore[no-untyped-def]
    """Distance from a point out to the surface along its geometric normal away from axis or centre: radius - distance."""
    rel = sub(p, s.origin)
    if s.kind == "sphere":
        return s.radius - dot(rel, rel) ** 0.5
    t = dot(rel, s.axis)
    r = max(0.0, dot(rel, rel) - t * t) ** 0.5
    if s.kind == "cylinder":
        return s.radius - r
    if s.kind == "torus":
        return s.radius - ((r - s.major_radius) ** 2 + t * t) ** 0.5
    if s.kind == "cone":
        from math import radians, tan

        a = radians(s.half_angle)
        return (s.radius + t * tan(a) - r) * cos(a)
    return None
