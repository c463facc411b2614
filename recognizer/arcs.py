"""Arcs as polylines."""

from __future__ import annotations

from math import ceil, cos, degrees, sin

from shared.units import Vector

CHORD_DEG = 10.0
"""Longest chord of an arc's polyline."""


def arc_points(
    c: Vector, x: Vector, y: Vector, r: float, first: float, last: float, steps: int | None = None
) -> tuple[Vector, ...]:
    """Points at equal steps on the circle of radius r about c, between two angles (radians) from x towards y.

    steps: how many; else as many as keep the chords short.
    """
    n = steps or max(2, ceil(degrees(abs(last - first)) / CHORD_DEG - 1e-9))
    out = []
    for i in range(n + 1):
        a = first + (last - first) * i / n
        ca, sa = r * cos(a), r * sin(a)
        out.append((c[0] + ca * x[0] + sa * y[0], c[1] + ca * x[1] + sa * y[1], c[2] + ca * x[2] + sa * y[2]))
    return tuple(out)
