"""How near to floors what stands beside them comes: so long as a cutter is smaller, nothing of the floor is lost, or corners alone.

Three radii for each floor answer most questions without any outlines.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import STRtree

from recognizer.access.corners import Corners, Foot
from recognizer.access.floors import SLIVER_MM, Floor
from recognizer.access.levels import FOOT_MM
from recognizer.access.obstacles import Arcs

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from recognizer.access.look import Look

Array = np.ndarray


class Beside:
    """What stands beside the floors of a look."""

    def __init__(self, look: Look) -> None:
        self.look = look
        self.sizes: list[float] = []
        """Radii of cutters that are going to be asked for: answered together."""
        self._corners: dict[int, Corners] = {}
        self._lost: dict[int, dict[float, float]] = {}
        self._alone: dict[int, float] = {}

    @cached_property
    def fits(self) -> dict[int, float]:
        """Radius up to which a flat cutter touches all of a floor that is seen, by the walls that rise from it."""
        radius = self.look.foot_fit.radius
        return {f.face: float(radius[f.walls].min(initial=np.inf)) for f in self.look.floors}

    @cached_property
    def near(self) -> dict[int, float]:
        """Radius up to which the walls near a floor at its level leave room, whether or not they rise from it."""
        look, floors = self.look, self.look.floors
        out = {f.face: np.inf for f in floors}
        s = look.strips
        k = np.flatnonzero((look.hidden < 0) & (look.fit.radius < look.limit))
        if not len(k) or not floors:
            return out
        box = shapely.bounds(np.array([f.seen for f in floors], object))
        tree = STRtree(shapely.points(s.nodes.p[k]))
        i, j = tree.query(shapely.box(*(box[:, :2] - look.limit).T, *(box[:, 2:] + look.limit).T))
        level, k = np.array([f.level for f in floors])[i] + FOOT_MM, k[j]
        band, p = s.band[s.strip[k]], s.nodes.p[k]
        off = np.maximum(box[i, :2] - p, p - box[i, 2:]).max(axis=1)
        stop = np.where(
            (band[:, 0] <= level) & (band[:, 1] > level), np.maximum(off, look.fit.radius[k] + SLIVER_MM), np.inf
        )
        least = np.full(len(floors), np.inf)
        np.minimum.at(least, i, stop)
        out.update(zip([f.face for f in floors], least.tolist(), strict=True))
        return out

    def share(self, floor: Floor, radius: float) -> float | None:
        """Share of a floor that a flat cutter touches, where that can be told without outlines; None where it cannot."""
        if floor.seen is not floor.outline and floor.seen_share > 0:
            return None  # what hides the rest is in the way too, from a level of its own
        if radius <= self.fits[floor.face] + SLIVER_MM and radius <= self.near[floor.face]:
            return floor.seen_share
        if not floor.feet or radius > self._alone_within(floor) + SLIVER_MM:
            return None
        lost = self._losses_of(floor)
        if radius not in lost:
            lost[radius] = float(self._corners[floor.face].losses(np.array([radius]))[0])
        return max(0.0, 1 - lost[radius] / floor.area) if lost[radius] == lost[radius] else None

    def _losses_of(self, floor: Floor) -> dict[float, float]:
        """What cutters leave in the corners of a floor, by their radius; nan where it is not corners alone."""
        if floor.face not in self._lost:
            share, fit = self.look.feet.share, self.look.foot_fit.radius
            feet = [Foot(a, b, share[k] * float(np.linalg.norm(b - a)), fit[k]) for a, b, k in floor.feet or []]
            self._corners[floor.face] = Corners(feet)
            losses = self._corners[floor.face].losses(np.array(self.sizes))
            self._lost[floor.face] = dict(zip(self.sizes, losses.tolist(), strict=True))
        return self._lost[floor.face]

    def _alone_within(self, floor: Floor) -> float:
        """How far off the first thing is that rises near a floor, but for the walls that stand on it."""
        if floor.walled is not None and len(floor.walled.interiors) == 0:
            return np.inf
        if floor.face not in self._alone:
            self._alone[floor.face] = self._first_stranger(floor)
        return self._alone[floor.face]

    def _first_stranger(self, floor: Floor) -> float:
        shapes, tree, top = self._shapes
        box, limit = floor.seen.bounds, self.look.limit
        k = tree.query(shapely.box(box[0] - limit, box[1] - limit, box[2] + limit, box[3] + limit))
        k = k[top[k] > floor.level + FOOT_MM]
        feet = shapely.multilinestrings(np.array([[a, b] for a, b, _ in floor.feet or []]).reshape(-1, 2, 2).tolist())
        k = k[shapely.distance(shapes[k], feet) > 1e-3]
        return float(shapely.distance(shapes[k], floor.seen).min(initial=np.inf))

    @cached_property
    def _shapes(self) -> tuple[Array, STRtree, Array]:
        """Outlines of all obstacles as lines, and their top levels."""
        s, arcs = self.look.segments, self.look.scene.arcs
        lines = shapely.linestrings(np.stack([s.a, s.b], axis=1))
        shapes = np.concatenate([lines, np.array([arc_line(arcs, i) for i in range(len(arcs))], object)])
        return shapes, STRtree(shapes), np.concatenate([s.top, arcs.top])


def arc_line(arcs: Arcs, i: int) -> BaseGeometry:
    """An arc as a line in chords of 2 degrees."""
    half = arcs.half[i]
    a = arcs.middle[i] + np.linspace(-half, half, max(3, int(np.ceil(half / 0.02)) + 1))
    return shapely.linestrings(arcs.centre[i] + arcs.radius[i] * np.stack([np.cos(a), np.sin(a)], axis=1))
