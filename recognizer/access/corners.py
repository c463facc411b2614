"""Floors whose only loss is in sharp corners between straight walls: the closed form instead of an opening.

A disc of radius R in a corner of angle a leaves R^2 (cot(a/2) - (pi - a)/2) uncut; at a square corner (1 - pi/4) R^2 (plane
geometry: the kite between corner and centre less the sector).
"""

from __future__ import annotations

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


def corner_loss(feet: list[Foot], radius: float) -> float | None:
    """Area that a cutter leaves in the corners of a floor, mm2; None where more than lone corners is in its way."""
    blocked = [[0.0, 0.0] for _ in feet]
    loss = 0.0
    for i, one in enumerate(feet):
        for j in range(i + 1, len(feet)):
            joined = _joined(one, feet[j])
            if joined is None:
                continue
            end_i, end_j, angle = joined
            if angle > pi - 1e-3 or angle < 0.2:
                return None
            leg = radius / tan(angle / 2)
            blocked[i][end_i] = max(blocked[i][end_i], leg)
            blocked[j][end_j] = max(blocked[j][end_j], leg)
            loss += radius**2 * (1 / tan(angle / 2) - (pi - angle) / 2)
    for foot, (start, end) in zip(feet, blocked, strict=True):
        if start + end > foot.length() + SAME_MM:
            return None
        free = (foot.along >= start - SAME_MM) & (foot.along <= foot.length() - end + SAME_MM)
        if not free.any() or foot.radius[free].min() < radius - FIT_MM:
            return None
        at = np.interp([start, foot.length() - end], foot.along, np.minimum(foot.radius, 1e3))
        if at.min() < radius - 0.02 * radius - FIT_MM:
            return None
    return loss


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
