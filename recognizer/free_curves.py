"""Curves without a name of their own as polylines, called lines or circles where that is what they are."""

from __future__ import annotations

from collections.abc import Callable
from math import acos, ceil, degrees

from recognizer.arcs import CHORD_DEG
from recognizer.fitted import LARGEST_MM, circle_through
from recognizer.vector import cross, distance, dot, length, sub, unit
from shared.tolerances import Tolerances
from shared.units import Vector

FREE_CURVE_POINTS = 13
CHORDS_A_SPAN, MAX_CHORDS = 12, 240
"""Chords between two knots of a free curve, and in all: a curve of many knots bends more often."""

Sampled = tuple[str, tuple[Vector, ...], float, Vector | None, Vector | None, float]
"""Name (line, circle or curve), points, length in mm; of a circle its centre, axis and radius."""


def sampled(steps: Callable[[int], tuple[Vector, ...]], spans: Callable[[], int], tol: Tolerances) -> Sampled:
    """A curve, given by its points at so many equal steps of its parameter, the first and the last among them.

    spans: counts the stretches between its knots.
    """
    n = FREE_CURVE_POINTS
    pts = steps(n - 1)
    eps = tol.length_mm / 5
    chord = sub(pts[-1], pts[0])
    if length(chord) > eps:
        d = unit(chord)
        if all(length(cross(sub(p, pts[0]), d)) < eps for p in pts):
            return "line", (pts[0], pts[-1]), length(chord), None, None, 0.0
    circle = circle_through(pts[0], pts[n // 3], pts[2 * n // 3])
    if circle is not None:
        c, a, r = circle
        if r < LARGEST_MM and all(abs(distance(p, c) - r) < eps and abs(dot(sub(p, c), a)) < eps for p in pts):
            sweep = sum(_angle(sub(p, c), sub(q, c)) for p, q in zip(pts, pts[1:], strict=False))
            return "circle", steps(max(n - 1, ceil(degrees(sweep) / CHORD_DEG))), r * sweep, c, a, r
    pts = steps(min(MAX_CHORDS, max(2 * (n - 1), CHORDS_A_SPAN * spans())))
    size = sum(distance(a, b) for a, b in zip(pts, pts[1:], strict=False))
    return "curve", pts, size, None, None, 0.0


def _angle(a: Vector, b: Vector) -> float:
    return acos(max(-1.0, min(1.0, dot(a, b) / (length(a) * length(b) or 1.0))))
