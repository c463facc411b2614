"""Floors whose only loss is in sharp corners between straight walls: the closed form instead of an opening.

A disc of radius R in a corner of angle a leaves R^2 (cot(a/2) - (pi - a)/2) uncut; at a square corner (1 - pi/4) R^2 (plane
geometry: the kite between corner and centre less the sector).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import pi, tan

import numpy as np

Array = np.ndarray
SAME_MM = 1e-3
FIT_MM = 0.005


@dataclass
class Foot:
    """The foot of a straight wall on a floor: ends a and b (2,), nodes' places along it in mm and largest radii there."""

    a: Array
    b: Array
    along: Array
    radius: Array

    def length(self) -> float:
        """Length of the foot."""
        return float(np.linalg.norm(self.b - self.a))


class Corners:
    """The corners between the straight feet of walls on one floor, gathered once for all cutters."""

    def __init__(self, feet: list[Foot]) -> None:
        self.feet, self.lengths = feet, [foot.length() for foot in feet]
        self.joints = [
            (i, j, *joined) for i, one in enumerate(feet) for j, joined in _joints(one, feet[i + 1 :], i + 1)
        ]

    def loss(self, radius: float) -> float | None:
        """Area that a cutter leaves in the corners, mm2; None where more than lone corners is in its way."""
        blocked = [[0.0, 0.0] for _ in self.feet]
        loss = 0.0
        for i, j, end_i, end_j, angle in self.joints:
            if angle > pi - 1e-3 or angle < 0.2:
                return None
            leg = radius / tan(angle / 2)
            blocked[i][end_i] = max(blocked[i][end_i], leg)
            blocked[j][end_j] = max(blocked[j][end_j], leg)
            loss += radius**2 * (1 / tan(angle / 2) - (pi - angle) / 2)
        if any(sum(ends) > length + SAME_MM for ends, length in zip(blocked, self.lengths, strict=True)):
            return None
        for foot, length, (start, end) in zip(self.feet, self.lengths, blocked, strict=True):
            free = (foot.along >= start - SAME_MM) & (foot.along <= length - end + SAME_MM)
            if foot.radius.min(initial=np.inf, where=free) < radius - FIT_MM or not free.any():
                return None
            at = np.interp([start, length - end], foot.along, np.minimum(foot.radius, 1e3))
            if at.min() < radius - 0.02 * radius - FIT_MM:
                return None
        return loss


def _joints(one: Foot, others: list[Foot], first: int) -> Iterator[tuple[int, tuple[int, int, float]]]:
    """(which foot, ends and angle) of all that one foot meets."""
    if not others:
        return
    ends = np.array([[foot.a, foot.b] for foot in others])
    near = (np.abs(ends[:, :, None] - np.array([one.a, one.b])) < SAME_MM).all(axis=3).any(axis=(1, 2))
    for k in np.flatnonzero(near).tolist():
        joined = _joined(one, others[k])
        if joined is not None:
            yield first + k, joined


def _joined(one: Foot, two: Foot) -> tuple[int, int, float] | None:
    """(end of one, end of two, angle between them) where two feet meet."""
    for i, p in enumerate((one.a, one.b)):
        for j, q in enumerate((two.a, two.b)):
            if abs(p[0] - q[0]) < SAME_MM and abs(p[1] - q[1]) < SAME_MM:
                u = (one.b, one.a)[i] - p
                v = (two.b, two.a)[j] - q
                size = float(np.linalg.norm(u) * np.linalg.norm(v))
                return i, j, float(np.arccos(np.clip(u @ v / max(size, 1e-12), -1, 1)))
    return None
