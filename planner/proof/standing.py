"""How high material stands along a setup's direction: the heights that holders, entries and rapids must clear."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from planner.proof.material import Workpiece, split
from planner.proof.plane import Plane
from planner.proof.rays import Array
from planner.proof.sweeps import Slab, chords


@dataclass(frozen=True)
class Place:
    """Where something stands too high. over: mm above the level. at: (3,) in the frame."""

    over: float
    at: Array


@dataclass(frozen=True)
class Heights:
    """The workpiece seen along a direction. tops: (n,) highest level of material on each ray of the bundle along it,
    -inf for none; None where the direction is no axis of the frame.
    """

    piece: Workpiece
    plane: Plane
    tops: Array | None

    def above(self, region: BaseGeometry, level: float) -> Place | None:
        """The highest material over a region that stands above a level."""
        if region.is_empty:
            return None
        if self.tops is None or self.plane.axis is None:
            return self._slanted(region, level)
        rays = self.rays(region)
        if not len(rays):
            return None
        best = rays[int(np.argmax(self.tops[rays]))]
        top = float(self.tops[best])
        if top <= level:
            return None
        bundle = self.piece[self.plane.axis].pieces.bundle
        return Place(top - level, bundle.points(np.array([best]), np.array([self.plane.sign * top]))[0])

    def rays(self, region: BaseGeometry) -> Array:
        """Rays of the bundle along the direction that stand over a region."""
        assert self.plane.axis is not None
        bundle = self.piece[self.plane.axis].pieces.bundle
        line, start, end = chords(region, bundle.by_v.levels, across=1)
        return bundle.by_v.between(line, start, end)[0]

    def free(self, places: Array, radius: float, level: float) -> bool:
        """Whether a disc finds no material above a level at one of some places (k, 2) at least."""
        if self.tops is None or self.plane.axis is None:
            return any(self._slanted(shapely.Point(p).buffer(radius), level) is None for p in places)
        bundle = self.piece[self.plane.axis].pieces.bundle
        high = self.tops > level
        high[high] &= np.hypot(*(np.array([bundle.u[high], bundle.v[high]]) - places.mean(axis=0)[:, None])) < (
            radius + np.hypot(*(places - places.mean(axis=0)).T).max()
        )
        u, v = bundle.u[high], bundle.v[high]
        return any(not (np.hypot(u - p[0], v - p[1]) < radius).any() for p in places)

    def _slanted(self, region: BaseGeometry, level: float) -> Place | None:
        best: Place | None = None
        for material in self.piece:
            bundle = material.pieces.bundle
            _, taken = split(material.there, Slab(self.plane, region, level, np.inf).cuts(bundle))
            for end in (taken.low, taken.high):
                points = bundle.points(taken.ray, end)
                over = points @ self.plane.d - level
                if len(over) and (best is None or over.max() > best.over):
                    best = Place(float(over.max()), points[int(over.argmax())])
        return best


def heights(piece: Workpiece, plane: Plane, part_only: bool = False) -> Heights:
    """The workpiece as it stands along a direction, or only what of it is the finished part."""
    if part_only:
        own = [replace(m, there=m.there.take(m.pieces.own[m.there.piece])) for m in piece]
        piece = (own[0], own[1], own[2])
    if plane.axis is None:
        return Heights(piece, plane, None)
    material = piece[plane.axis]
    tops = np.full(material.pieces.bundle.count, -np.inf)
    ray = material.there.ray  # in order of ray and coordinate: the outermost is each ray's last, or its first
    turn = ray[1:] != ray[:-1] if len(ray) else np.empty(0, dtype=bool)
    if len(ray) and plane.sign > 0:
        last = np.flatnonzero(np.concatenate([turn, [True]]))
        tops[ray[last]] = material.there.high[last]
    elif len(ray):
        first = np.flatnonzero(np.concatenate([[True], turn]))
        tops[ray[first]] = -material.there.low[first]
    return Heights(piece, plane, tops)
