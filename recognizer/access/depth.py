"""How deep places lie: the highest material near them, at most a little too high. Holders are then tested exactly.

Few places: boxes against all obstacles. Many: a raster of tops, spread by a square of the holder's size.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np

from recognizer.access.near import counting
from recognizer.access.obstacles import Arcs, Segments
from recognizer.access.scene import Scene

Array = np.ndarray
FEW = 400_000
"""Up to so many pairs of box and obstacle are looked at one by one."""
CELLS = 300
"""Most cells of the raster along the part's longer side."""


class Tops:
    """Highest levels of material within distances of places."""

    def __init__(self, scene: Scene, segments: Segments) -> None:
        self.scene = scene
        segment, arc = segments.face // scene.part_faces, scene.arcs.face // scene.part_faces
        self._tiles = [
            TileTops(segments.some(np.flatnonzero(segment == k)), scene.arcs.some(np.flatnonzero(arc == k)))
            for k in range(scene.count)
        ]

    def near(self, low: Array, high: Array, floor: Array, distance: float) -> Array:
        """(n,) highest level above `floor` within a distance of boxes (n, 2) low to high; the floor if none is."""
        out, tile = floor.copy(), self.scene.tile_at(floor)
        for k, one in enumerate(self._tiles):
            own = np.flatnonzero(tile == k)
            if len(own):
                out[own] = one.near(low[own], high[own], floor[own], distance)
        return out


class TileTops:
    """The same for one direction."""

    def __init__(self, segments: Segments, arcs: Arcs) -> None:
        self.segments, self.arcs = segments, arcs
        self._rasters: dict[float, Raster] = {}

    def near(self, low: Array, high: Array, floor: Array, distance: float) -> Array:
        """See `Tops`."""
        if len(low) * (len(self.segments) + len(self.arcs)) <= FEW:
            return self._by_boxes(low, high, floor, distance)
        if distance not in self._rasters:
            self._rasters[distance] = Raster(self.segments, self.arcs, distance)
        raster = self._rasters[distance]
        # A strip is short beside a holder, or it is straight: both ends and the middle are asked.
        found = [raster.at(p) for p in (low, high, (low + high) / 2)]
        return np.maximum(np.max(found, axis=0), floor)

    @cached_property
    def _boxes(self) -> tuple[Array, Array, Array]:
        s, arcs = self.segments, self.arcs
        low = np.concatenate([np.minimum(s.a, s.b), arcs.centre - arcs.radius[:, None]])
        high = np.concatenate([np.maximum(s.a, s.b), arcs.centre + arcs.radius[:, None]])
        return low, high, np.concatenate([s.top, arcs.top])

    def _by_boxes(self, low: Array, high: Array, floor: Array, distance: float) -> Array:
        lo, hi, top = self._boxes
        if not len(top):
            return floor.copy()
        low, high = low - distance, high + distance
        near = (lo[:, 0] <= high[:, :1]) & (hi[:, 0] >= low[:, :1])
        near &= (lo[:, 1] <= high[:, 1:]) & (hi[:, 1] >= low[:, 1:])
        return np.maximum(np.where(near, top, -np.inf).max(axis=1), floor)


class Raster:
    """Highest tops within a square of half side `distance` and a cell more, on a grid."""

    def __init__(self, s: Segments, arcs: Arcs, distance: float) -> None:
        reach = arcs.radius[:, None]
        corner = np.concatenate([np.minimum(s.a, s.b), arcs.centre - reach]).min(axis=0)
        far = np.concatenate([np.maximum(s.a, s.b), arcs.centre + reach]).max(axis=0)
        self.step = max(float((far - corner).max()) / CELLS, distance / 16)
        self.low = corner - distance - 2 * self.step
        shape = np.ceil((far + distance - self.low) / self.step).astype(int) + 3
        self.map = np.full(tuple(shape), -np.inf)
        self._draw(s.a, s.b, s.top)
        turn = arcs.middle[:, None] + arcs.half[:, None] * np.linspace(-1, 1, 33)
        p = arcs.centre[:, None] + arcs.radius[:, None, None] * np.stack([np.cos(turn), np.sin(turn)], axis=2)
        self._draw(p[:, :-1].reshape(-1, 2), p[:, 1:].reshape(-1, 2), np.repeat(arcs.top, 32))
        for axis in (0, 1):
            self.map = _spread(self.map, int(np.ceil(distance / self.step)) + 1, axis)

    def _draw(self, a: Array, b: Array, top: Array) -> None:
        count = np.ceil(np.abs(b - a).max(axis=1, initial=0.0) / (0.5 * self.step)).astype(int) + 1
        k = np.repeat(np.arange(len(a)), count)
        share = counting(count) / np.maximum(count - 1, 1)[k]
        at = np.round((a[k] + share[:, None] * (b - a)[k] - self.low) / self.step).astype(int)
        np.maximum.at(self.map, (at[:, 0], at[:, 1]), top[k])

    def at(self, p: Array) -> Array:
        """(n,) highest top near each place."""
        k = np.clip(np.round((p - self.low) / self.step).astype(int), 0, np.array(self.map.shape) - 1)
        return self.map[k[:, 0], k[:, 1]]


def _spread(field: Array, half: int, axis: int) -> Array:
    """Largest value over `half` cells to both sides along an axis, by doubling."""
    field = np.moveaxis(field, axis, -1)
    count, width = field.shape[-1], 2 * half + 1
    padded = np.pad(field, ((0, 0), (half, half)), constant_values=-np.inf)
    span = 1
    while 2 * span <= width:
        padded = np.maximum(padded[:, :-span], padded[:, span:])
        span *= 2
    rest = width - span
    return np.moveaxis(np.maximum(padded[:, :count], padded[:, rest : rest + count]), -1, axis)
