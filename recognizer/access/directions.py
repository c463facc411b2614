"""The directions that are looked along: the part's six, its features', the user's, and a sphere for five axes."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, pi, radians, sin, sqrt

from recognizer.frame import Frame
from recognizer.vector import dot, unit
from shared.features import FeaturesDocument
from shared.units import Vector

SPHERE = 96
"""Directions on the sphere: neighbours stand some 20 degrees apart."""
SAME_DEG = 0.05


def fibonacci_sphere(count: int) -> list[Vector]:
    """Evenly spread unit vectors, the same for the same count (golden-angle spiral)."""
    turn = pi * (3 - sqrt(5))
    out = []
    for i in range(count):
        z = 1 - (2 * i + 1) / count
        r = sqrt(1 - z * z)
        out.append((r * cos(turn * i), r * sin(turn * i), z))
    return out


def candidates(
    frame: Frame, features: FeaturesDocument | None, given: Sequence[Vector] | None, axes: int
) -> list[tuple[Vector, str]]:
    """(direction, source) in a fixed order, each once. `given` directions replace all but themselves."""
    found: list[tuple[Vector, str]] = []

    def add(d: Vector, source: str) -> None:
        if all(dot(d, other) < cos(radians(SAME_DEG)) for other, _ in found):
            found.append((d, source))

    if given:
        for d in given:
            add(unit(d), "user")
        return found
    for d in frame.directions:
        add(d, "main")
    for feature in features.features if features else ():
        for view in feature.views:
            add(unit(view.direction), "feature")
    if axes == 5:
        for d in fibonacci_sphere(SPHERE):
            add(d, "sphere")
    return found
