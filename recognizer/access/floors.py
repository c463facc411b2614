"""Floors: faces square to the direction. A flat cutter touches what the opening of the free region by its disc covers.

The cutter's axis may stand wherever no obstacle above the floor is nearer than its radius; the floor is touched within its
radius of such places. All of it is touched exactly where the disc fits beside every wall that rises from the floor.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import pi, sin, sqrt

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from recognizer.access.holders import CLEAR_MM
from recognizer.access.material import Material
from recognizer.access.overhead import Overhead
from recognizer.access.rings import polygons_of
from recognizer.access.roles import UPRIGHT
from recognizer.access.scene import Scene

Array = np.ndarray
QUARTER = 8
"""Chords of a quarter turn in buffers; radii are chosen so that the polygon has the circle's area."""
ROUND = 1 / sqrt(2 * QUARTER / pi * sin(pi / (2 * QUARTER)))
SLIVER_MM = 5e-4


@dataclass
class Floor:
    """A face square to the direction: its outline, what is seen of it, its level, the walls that rise from it."""

    face: int
    level: float
    outline: BaseGeometry
    seen: BaseGeometry
    hidden_by: list[int]
    seen_share: float
    """Share of the floor that is seen."""
    walls: Array = field(default_factory=lambda: np.empty(0, int))
    shares: dict = field(default_factory=dict)
    feet: list[tuple[Array, Array, slice]] | None = field(default_factory=list)
    """Straight feet: ends, and which of `walls` are their nodes; None where a foot is no straight line or is partly hidden."""
    walled: BaseGeometry | None = None
    """Where a wall rises all round: the outline, with the holes filled that go down. No cutter comes from beyond."""

    @property
    def area(self) -> float:
        """Mm2 of the whole outline."""
        return float(self.outline.area)


def floors_of(scene: Scene, overhead: Overhead) -> list[Floor]:
    """All floors of all tiles."""
    pieces = scene.pieces
    chosen = np.flatnonzero((scene.cosine > 1 - UPRIGHT**2) & ~pieces.curved)
    face, level = pieces.face[chosen], pieces.side_a[np.searchsorted(pieces.side_piece, chosen), 2]
    outlines = polygons_of(scene, face)
    parts = overhead.seen_parts(outlines, level)
    whole, left = shapely.area(outlines), shapely.area(np.array([p for p, _ in parts], object))
    share = np.where(whole > 0, np.minimum(1.0, left / np.where(whole > 0, whole, 1.0)), 0.0)
    return [
        Floor(f, z, outline, seen, by, one)
        for f, z, outline, (seen, by), one in zip(
            face.tolist(), level.tolist(), outlines, parts, share.tolist(), strict=True
        )
    ]


Steps = tuple[tuple[float, float], ...]
"""Cylinders of a cutter above its tip: (radius, level of its lower end)."""


def touched_region(
    floor: Floor, material: Material, radius: float, flat: float | None = None, steps: Steps = ()
) -> BaseGeometry:
    """What of a floor a cutter touches: the opening of the free region by the cutter's disc.

    flat: radius of its flat bottom, if its edge is round. steps: what stands wider further up, round edge or holder.
    """
    grown = radius * ROUND
    spread = grown if flat is None or flat == radius else flat * ROUND
    if floor.walled is not None:
        free = _sound(floor.walled.buffer(SLIVER_MM - grown, quad_segs=QUARTER), floor.walled.boundary, radius)
        if flat is not None and flat < radius:
            free = floor.walled.buffer(SLIVER_MM - spread, quad_segs=QUARTER)
    else:
        above = _beside(floor, material, floor.level, 2.5 * radius)
        # Places farther away than a radius touch nothing of the floor: a box is as good as its outline grown.
        x0, y0, x1, y1 = floor.seen.bounds
        free = shapely.box(x0 - radius, y0 - radius, x1 + radius, y1 + radius)
        if not above.is_empty:
            blocked = above.buffer(spread - SLIVER_MM, quad_segs=QUARTER)
            free = _sound(free.difference(blocked), above, spread / ROUND)
        elif not steps:
            return floor.seen
    for wide, level in steps:
        above = _beside(floor, material, level, radius + wide)
        free = free.difference(above.buffer(wide * ROUND - CLEAR_MM, quad_segs=QUARTER))
    return free.buffer(spread + SLIVER_MM, quad_segs=QUARTER).intersection(floor.seen)


def _beside(floor: Floor, material: Material, level: float, reach: float) -> BaseGeometry:
    """What stands above a level within reach of a floor."""
    x0, y0, x1, y1 = floor.seen.bounds
    above = material.near((x0 - reach, y0 - reach, x1 + reach, y1 + reach), level)
    # Chords of curved faces above reach over the floor's edge by a hair.
    return above.difference(floor.seen)


def _sound(free: BaseGeometry, obstacles: BaseGeometry, radius: float) -> BaseGeometry:
    """As `_sound_parts`, for one region."""
    return _sound_parts(np.array([free], object), np.array([obstacles], object), np.array([radius]))[0]


def touched_shares(asked: list[tuple[Floor, float]], material: Material) -> None:
    """Notes the shares that flat cutters of a radius touch of floors, many at once, with nothing wider above their edge."""
    asked = [(f, r) for f, r in asked if round(r, 6) not in f.shares]
    for walled in (True, False):
        own = [(f, r) for f, r in asked if (f.walled is not None) == walled]
        if not own:
            continue
        radius = np.array([r for _, r in own])
        grown = radius * ROUND
        if walled:
            whole = np.array([f.walled for f, _ in own], object)
            free, obstacles = shapely.buffer(whole, SLIVER_MM - grown, quad_segs=QUARTER), shapely.boundary(whole)
        else:
            free, obstacles = _free_places(own, material, grown)
        free = _sound_parts(free, obstacles, radius)
        seen = np.array([f.seen for f, _ in own], object)
        regions = shapely.intersection(shapely.buffer(free, grown + SLIVER_MM, quad_segs=QUARTER), seen)
        for (floor, r), area in zip(own, shapely.area(regions).tolist(), strict=True):
            floor.shares[round(r, 6)] = area / floor.area


def _free_places(asked: list[tuple[Floor, float]], material: Material, grown: Array) -> tuple[Array, Array]:
    """(where a cutter may stand near each floor, what is in its way)."""
    most: dict[int, float] = {}
    for f, r in asked:
        most[f.face] = max(r, most.get(f.face, 0.0))
    above: dict[int, BaseGeometry] = {}
    for f, _ in asked:
        if f.face not in above:
            above[f.face] = _beside(f, material, f.level, 2.5 * most[f.face])
    obstacles = np.array([above[f.face] for f, _ in asked], object)
    bounds, radius = shapely.bounds(np.array([f.seen for f, _ in asked], object)), np.array([r for _, r in asked])
    box = shapely.box(*(bounds[:, i] - radius for i in (0, 1)), *(bounds[:, i] + radius for i in (2, 3)))
    return shapely.difference(box, shapely.buffer(obstacles, grown - SLIVER_MM, quad_segs=QUARTER)), obstacles


def _sound_parts(free: Array, obstacles: Array, radius: Array) -> Array:
    """Of regions of free places (n,) those parts that are free: growing a hollow arc by more than its own radius, the
    geometry library leaves specks.
    """
    parts, owner = shapely.get_parts(free, return_index=True)
    specks = shapely.distance(shapely.point_on_surface(parts), obstacles[owner]) < 0.97 * radius[owner] - 2 * SLIVER_MM
    free = free.copy()
    for i in np.unique(owner[specks]).tolist():
        free[i] = shapely.multipolygons(parts[(owner == i) & ~specks])
    return free
