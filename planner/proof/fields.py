"""All above a level that changes from place to place: what a cutter sweeps that follows surfaces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.proof.material import Cuts, all_cuts
from planner.proof.plane import Plane
from planner.proof.rays import Array, Bundle

AT_ONCE = 2_000_000
"""Places along rays that are compared with a height field at a time."""


@dataclass(frozen=True)
class HeightField:
    """All above a level that changes from place to place. low: (2,) of the first place. lowest: (n, m), inf for none."""

    plane: Plane
    low: Array
    cell: float
    lowest: Array

    def cuts(self, bundle: Bundle) -> Cuts:
        """The stretches of the bundle's rays inside it; none where the direction is no axis of the frame."""
        if self.plane.axis is None:
            return all_cuts([])
        if self.plane.axis == bundle.axis:
            return self._along(bundle)
        return self._across(bundle)

    def _at(self, u: Array, v: Array) -> Array:
        """Level at places, between the four next ones."""
        a, b = (u - self.low[0]) / self.cell, (v - self.low[1]) / self.cell
        i = np.clip(np.floor(a).astype(int), 0, self.lowest.shape[0] - 2)
        j = np.clip(np.floor(b).astype(int), 0, self.lowest.shape[1] - 2)
        s, t = a - i, b - j
        z = self.lowest
        with np.errstate(invalid="ignore"):
            rows = [z[i, j] * (1 - t) + z[i, j + 1] * t, z[i + 1, j] * (1 - t) + z[i + 1, j + 1] * t]
            out = rows[0] * (1 - s) + rows[1] * s
        inside = (s >= 0) & (s <= 1) & (t >= 0) & (t <= 1)
        return np.where(inside & np.isfinite(out), out, np.inf)

    def _along(self, bundle: Bundle) -> Cuts:
        level = self._at(bundle.u, bundle.v)
        ray = np.flatnonzero(np.isfinite(level))
        if self.plane.sign > 0:
            return Cuts(ray, level[ray], np.full(len(ray), bundle.high + 1.0))
        return Cuts(ray, np.full(len(ray), bundle.low - 1.0), -level[ray])

    def _across(self, bundle: Bundle) -> Cuts:
        """Rays square to the direction: where the field's section along each lies below the ray."""
        axis = self.plane.axis or 0
        c = 3 - bundle.axis - axis
        c_is_u = c == (axis + 1) % 3
        rows = bundle.rows(c)
        size = np.array(self.lowest.shape) - 1
        low, high = self.low, self.low + self.cell * size
        first, last = np.searchsorted(rows.levels, [low[0 if c_is_u else 1], high[0 if c_is_u else 1]])
        levels = np.broadcast_to(rows.levels[first:last, None], (last - first, self.lowest.shape[1 if c_is_u else 0]))
        along = self.low[1 if c_is_u else 0] + self.cell * np.arange(levels.shape[1])
        along = np.broadcast_to(along, levels.shape)
        sections = self._at(levels, along) if c_is_u else self._at(along, levels)
        floors = sections.min(axis=1, initial=np.inf)
        ends = (floors, np.inf) if self.plane.sign > 0 else (-np.inf, -floors)
        ray, row = rows.between(np.arange(first, last), *ends)
        up = (bundle.u if (bundle.axis + 1) % 3 == self.plane.axis else bundle.v)[ray] * self.plane.sign
        step = max(1, AT_ONCE // levels.shape[1])
        parts = [slice(k, k + step) for k in range(0, len(ray), step)]
        return all_cuts([self._below(sections, along[0], ray[p], row[p], up[p]) for p in parts])

    def _below(self, sections: Array, along: Array, ray: Array, row: Array, up: Array) -> Cuts:
        """Stretches of rays where the section of their row (r, n) lies below their level `up`."""
        turn = np.diff(np.pad(sections[row] < up[:, None], ((0, 0), (1, 1))).view(np.int8), axis=1)
        r, start = np.nonzero(turn == 1)
        _, end = np.nonzero(turn == -1)
        low = self._edge(sections, along, row[r], up[r], start, -1)
        return Cuts(ray[r], low, self._edge(sections, along, row[r], up[r], end - 1, 1))

    def _edge(self, sections: Array, along: Array, row: Array, level: Array, inside: Array, step: int) -> Array:
        """Where the section crosses a level between a place inside and the next one outside."""
        outside = np.clip(inside + step, 0, len(along) - 1)
        a, b = sections[row, inside], sections[row, outside]
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.where(np.isfinite(b) & (b > a), (level - a) / (b - a), 0.0)
        return along[inside] + step * self.cell * np.clip(share, 0.0, 1.0)
