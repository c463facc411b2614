"""Scenes for tests of sweeps alone."""

from __future__ import annotations

import numpy as np

from planner.proof.scene import Scene


def bare_scene(size: tuple[float, float, float]) -> Scene:
    """A block with a corner at the origin and nothing in it."""
    none = np.empty((0, 3, 3))
    low, high = np.zeros(3), np.array(size)
    return Scene(np.eye(3), none, np.empty((0, 3), dtype=int), np.empty(0, dtype=int), low, high, low, high, {})
