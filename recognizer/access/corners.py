"""Floors whose only loss is in sharp corners between straight walls: the closed form instead of an opening.

A disc of radius R in a corner of angle a leaves R^2 (cot(a/2) - (pi - a)/2) uncut; at a square corner (1 - pi/4) R^2 (plane
geometry: the kite between corner and centre less the sector).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import pi

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
        self.feet, self.lengths = feet, np.array([foot.length() for foot in feet])
        self.along, self.radius = np.array([foot.along for foot in feet]), np.array([foot.radius for foot in feet])
        ends = np.array([[foot.a, foot.b] for foot in feet]).reshape(-1, 2, 2)
        self.joints = [(i, j, *joined) for i, one in enumerate(feet) for j, joined in _joints(one, feet, ends, i + 1)]

    def losses(self, radius: Array) -> Array:
        """(n,) area that cutters of these radii leave in the corners, mm2; nan where more than lone corners is in the way."""
        one = np.arange(len(radius))
        i, j, end_i, end_j, angle = (
            (np.array(column) for column in zip(*self.joints, strict=True)) if self.joints else [_NO] * 5
        )
        blocked = np.zeros((len(radius), len(self.feet), 2))
        legs = radius[:, None] / np.tan(angle / 2)
        for foot, end in ((i, end_i), (j, end_j)):
            np.maximum.at(blocked, (one[:, None], foot, end), legs)
        loss = (radius[:, None] ** 2 * (1 / np.tan(angle / 2) - (pi - angle) / 2)).sum(axis=1)
        good = blocked.sum(axis=2) <= self.lengths + SAME_MM
        start, stop = blocked[..., 0], self.lengths - blocked[..., 1]
        along, fits = self.along, self.radius
        free = (along >= start[..., None] - SAME_MM) & (along <= stop[..., None] + SAME_MM)
        good &= free.any(axis=2) & (np.where(free, fits, np.inf).min(axis=2) >= radius[:, None] - FIT_MM)
        for at in (start, stop):
            good &= _between(along, np.minimum(fits, 1e3), at) >= 0.98 * radius[:, None] - FIT_MM
        sharp = bool(((angle > pi - 1e-3) | (angle < 0.2)).any())
        return np.where(good.all(axis=1) & (not sharp), loss, np.nan)


_NO = np.empty(0, int)


def _between(along: Array, value: Array, at: Array) -> Array:
    """(n, feet) values (feet, k) at places (n, feet), straight between those at `along` (feet, k)."""
    k = np.clip((along[None] <= at[..., None]).sum(axis=2), 1, along.shape[1] - 1)
    foot = np.arange(len(along))
    x0, x1, y0, y1 = along[foot, k - 1], along[foot, k], value[foot, k - 1], value[foot, k]
    share = np.clip((at - x0) / np.maximum(x1 - x0, 1e-12), 0.0, 1.0)
    return y0 + share * (y1 - y0)


def _joints(one: Foot, feet: list[Foot], ends: Array, first: int) -> Iterator[tuple[int, tuple[int, int, float]]]:
    """(which foot, ends and angle) of all feet from the first on that one foot meets; ends: (n, 2, 2) of all feet."""
    near = (np.abs(ends[first:, :, None] - np.array([one.a, one.b])) < SAME_MM).all(axis=3).any(axis=(1, 2))
    for k in (first + np.flatnonzero(near)).tolist():
        joined = _joined(one, feet[k])
        if joined is not None:
            yield k, joined


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
