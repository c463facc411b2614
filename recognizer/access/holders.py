"""What stands behind a cutter's edge, as stacked cylinders, and whether it is free over a place: exactly, no box or grid.

A cylinder of radius r whose lower end is at level h is free over an axis where nothing above h is nearer than r.
"""

from __future__ import annotations

import numpy as np

from recognizer.access.cutters import Stack
from recognizer.access.near import GRAZE, Near
from recognizer.access.obstacles import Arcs, Nodes, Segments
from recognizer.access.scene import Scene

Array = np.ndarray
CLEAR_MM = 0.01
"""A holder, and what else stands wider above the tip, may come so near to the part: the tolerance of lengths."""


class Overhang:
    """The obstacles of all tiles, asked by holders."""

    def __init__(self, scene: Scene, segments: Segments) -> None:
        self.scene, self.segments, self.arcs = scene, segments, scene.arcs

    def free(self, axis: Array, tip: Array, stack: Stack) -> Array:
        """(n,) whether the stack is free over each place. axis: (n, 2); tip: (n,) levels."""
        return self.all_free([(axis, tip, stack)])[0]

    def all_free(self, asked: list[tuple[Array, Array, Stack]]) -> list[Array]:
        """The same for several stacks, each over its own places: cylinders of one radius go together."""
        ok = [np.ones(len(tip), bool) for _, tip, _ in asked]
        rows: dict[float, list[tuple[int, float]]] = {}
        for i, (_, _, stack) in enumerate(asked):
            for radius, start in stack.steps:
                rows.setdefault(radius, []).append((i, start))
        for radius, steps in rows.items():
            parts = []
            for i, start in steps:
                axis, tip, _ = asked[i]
                k = np.flatnonzero(ok[i] & (tip + start < self.scene.high_at(tip) - CLEAR_MM))
                parts.append((i, k, axis[k], tip[k] + start + CLEAR_MM))
            axis, level = (np.concatenate([part[c] for part in parts]) for c in (2, 3))
            clear = self._clear(axis, level, radius - CLEAR_MM) if len(level) else level
            ends = np.cumsum([len(part[1]) for part in parts])[:-1]
            for (i, k, _, _), own in zip(parts, np.split(clear, ends), strict=True):
                ok[i][k] = own
        return ok

    def _can_stop(self, level: Array) -> tuple[Segments, Arcs]:
        """Obstacles that can stand in the way at any of these levels: high enough in their tile, cuts of the levels' rows."""
        scene = self.scene
        least = np.full(scene.count, np.inf)
        np.minimum.at(least, scene.tile_at(level), level)
        rows = np.zeros(len(scene.cut_tops) + 1, bool)
        rows[np.searchsorted(scene.cut_tops, level + GRAZE, side="right")] = True

        def able(some: Segments | Arcs) -> Array:
            high = some.top > least[some.face // scene.part_faces]
            return np.flatnonzero(high & ((some.row < 0) | rows[some.row]))

        return self.segments.some(able(self.segments)), self.arcs.some(able(self.arcs))

    def _clear(self, axis: Array, level: Array, radius: float) -> Array:
        """(n,) whether nothing above a level is nearer than a radius."""
        segments, arcs = self._can_stop(level)
        nodes = Nodes(axis, np.zeros_like(axis), level, np.zeros(len(level)))
        found = Near(nodes, segments, arcs, self.scene.cut_tops, radius)
        hit = np.zeros(len(level), bool)
        for i, j in found.segments():
            near = np.flatnonzero(~hit[i])
            i, j = i[near], j[near]
            hit[i[(to_segments(axis[i], level[i], segments, j) < radius) & (level[i] < segments.top[j])]] = True
        for i, j in found.arcs():
            near = np.flatnonzero(~hit[i])
            i, j = i[near], j[near]
            hit[i[(to_arcs(axis[i], arcs, j) < radius) & (level[i] < arcs.top[j])]] = True
        return ~hit


def to_segments(p: Array, level: Array, s: Segments, j: Array) -> Array:
    """Distance of points to what of segments lies above a level."""
    ax, ay, bx, by = s.a[:, 0][j], s.a[:, 1][j], s.b[:, 0][j], s.b[:, 1][j]
    wx, wy, px, py = bx - ax, by - ay, p[:, 0] - ax, p[:, 1] - ay
    share = np.clip((px * wx + py * wy) / np.maximum(wx * wx + wy * wy, 1e-18), 0.0, 1.0)
    rise = s.rise[j]
    k = np.flatnonzero(np.abs(rise) > 1e-3)
    if len(k):
        rise = rise[k]
        start = s.top[j[k]] - np.maximum(rise, 0.0)
        cut = np.clip((level[k] - start) / rise, 0.0, 1.0)
        share[k] = np.clip(share[k], np.where(rise > 0, cut, 0.0), np.where(rise < 0, cut, 1.0))
    return np.hypot(share * wx - px, share * wy - py)


def to_arcs(p: Array, arcs: Arcs, j: Array) -> Array:
    """Distance of points to arcs."""
    rel = p - arcs.centre[j]
    size, r = np.linalg.norm(rel, axis=1), arcs.radius[j]
    turn = np.abs((np.arctan2(rel[:, 1], rel[:, 0]) - arcs.middle[j] + np.pi) % (2 * np.pi) - np.pi)
    # Beyond the arc's span the nearer end counts: the law of cosines over the angle left.
    rest = np.maximum(turn - arcs.half[j], 0.0)
    return np.sqrt(np.maximum(size**2 + r**2 - 2 * size * r * np.cos(rest), 0.0))
