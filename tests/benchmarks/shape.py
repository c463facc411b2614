"""What a feature looks like in its first view, counted from the document alone: walls, corners, arcs, where it lies.

The table in `classes.py` asks these questions; nothing here knows a dataset.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import degrees

import numpy as np

from shared.features import HOLE_KINDS, Face, Feature, FeaturesDocument, Side, View

LENGTH_MM = 0.01
ANGLE_DEG = 0.5
TRIANGLE_SHARE = 0.55
SLIVER_DEG = 20.0
"""A wall that leaves less material than this to the face beyond its rim runs out to a knife edge there."""


@dataclass(frozen=True)
class Shape:
    """Questions about one feature of a document."""

    feature: Feature
    document: FeaturesDocument

    @property
    def kind(self) -> str:
        """The feature's kind."""
        return self.feature.kind

    @property
    def profile(self) -> str | None:
        """The feature's profile."""
        return self.feature.profile

    @cached_property
    def view(self) -> View | None:
        """The view that names the kind."""
        return self.feature.views[0] if self.feature.views else None

    @property
    def through(self) -> bool:
        """No floor."""
        return self.feature.bottom_condition == "through" or bool(self.view and self.view.through)

    @property
    def islands(self) -> int:
        """Material that stands in the region."""
        return self.view.islands if self.view else 0

    @cached_property
    def shut(self) -> list[Side]:
        """Straight closed sides whose wall runs out to a knife edge along all of its rim or end, at no hole's face.

        Such a wall passes through the edge at which the cut was begun, or lies in the plane of the face on which it
        was: the cut ran on under the material beyond. It shuts the mouth and is no side of the cut's shape.
        """
        return [s for s in self._sides if s.radius is None and self._is_shut(s)]

    def _is_shut(self, s: Side) -> bool:
        size, depth = float(np.linalg.norm(np.array(s.end) - np.array(s.start))), self.view.depth if self.view else 0.0
        for face, way, length in self._knife_edges:
            along = abs(float(np.dot(way, _unit(s)))) > np.cos(np.radians(ANGLE_DEG))
            if face in s.faces and length > 0.9 * (size if along else depth):
                return True
        return False

    @cached_property
    def _knife_edges(self) -> list[tuple[int, np.ndarray, float]]:
        """Wall, direction and length of each straight knife edge of the walls."""
        bores = {i for f in self.document.features if f.kind in HOLE_KINDS for i in f.faces}
        own = set(self.feature.faces)
        out = []
        for e in self.document.edges:
            mine = own & set(e.faces)
            if e.angle > 180.0 - SLIVER_DEG and len(mine) == 1 and not bores & set(e.faces):
                way = np.array(e.end) - np.array(e.start)
                if abs(np.linalg.norm(way) - e.length) < LENGTH_MM:
                    out.append((min(mine), way / e.length, e.length))
        return out

    @property
    def _sides(self) -> list[Side]:
        return [s for s in self.view.sides if not s.open and not s.corner] if self.view else []

    @cached_property
    def closed(self) -> list[Side]:
        """Closed sides, in the order of the outline, without corner radii, bevels and walls that shut the mouth."""
        shut = self.shut if len(self.shut) < len(self._sides) else []
        return [s for s in self._sides if s not in shut]

    @cached_property
    def planes(self) -> int:
        """Plane walls; pieces on one line, as another feature leaves them, count once."""
        straight = [s for s in self.closed if s.radius is None]
        if not self.closed:
            return sum(self._surface(f) == "plane" for f in self.feature.walls)
        lines: list[Side] = []
        for s in straight:
            if not any(_collinear(s, other) for other in lines):
                lines.append(s)
        return len(lines)

    @property
    def planes_and_mouth(self) -> int:
        """Plane walls with those that shut the mouth."""
        return self.planes + len(self.shut)

    @cached_property
    def arcs(self) -> list[float]:
        """Degrees of each round closed side, longest first; pieces of one cylinder face count once."""
        spans: dict[tuple[int, ...], float] = {}
        for s in self.closed:
            if s.radius:
                key = tuple(s.faces)
                spans[key] = spans.get(key, 0.0) + degrees(s.length / s.radius)
        if not self.closed:
            return [0.0] * sum(self._surface(f) == "cylinder" for f in self.feature.walls)
        return sorted(spans.values(), reverse=True)

    @cached_property
    def turns(self) -> list[float]:
        """Degrees of turn at each corner of two straight closed sides: 90 in a rectangle, 60 in a hexagon."""
        sides = [s for s in self.view.sides if s.open or s in self.closed] if self.view else []
        pairs = zip(sides, sides[1:] + sides[:1], strict=True) if len(sides) > 1 else []
        return [_angle(a, b) for a, b in pairs if _corner(a, b)]

    @property
    def square(self) -> bool:
        """All corners are right angles."""
        return bool(self.turns) and all(abs(t - 90.0) < ANGLE_DEG for t in self.turns)

    @property
    def hexagonal(self) -> bool:
        """All corners are those of a regular hexagon, at least one of them left."""
        return bool(self.turns) and all(abs(t - 60.0) < ANGLE_DEG for t in self.turns)

    @cached_property
    def upright_walls(self) -> list[Side]:
        """Straight closed sides, one a wall."""
        return [s for s in self.closed if s.radius is None]

    @property
    def along_box(self) -> bool:
        """Every straight wall runs along an axis of the part's box."""
        return all(abs(_unit(s)).max() > np.cos(np.radians(ANGLE_DEG)) for s in self.upright_walls)

    @property
    def _off_corner(self) -> bool:
        """The only straight wall runs from one side of the part's box to one square to it: it takes a corner off."""
        walls, v = self.upright_walls, self.view
        if len(walls) != 1 or v is None:
            return False
        d, box = np.array(self.document.part.frame) @ np.array(v.direction), self.document.part.frame_box
        spans = [b for f in walls[0].faces if (b := self.document.faces[f].box)]
        met = []
        for k in range(3 if spans else 0):
            low, high = min(b.min[k] for b in spans), max(b.max[k] for b in spans)
            if abs(d[k]) < 0.5:
                met.append((abs(low - box.min[k]) < LENGTH_MM) + (abs(high - box.max[k]) < LENGTH_MM))
        return met == [1, 1]

    @property
    def across_corner(self) -> bool:
        """The wall takes a corner off the box, or the floor is a triangle, or half of the wall's rectangle with two open
        sides where a cut has eaten a corner.
        """
        v = self.view
        if v is None or not v.outline:
            return False
        if self._off_corner:
            return True
        if _corners(v.outline[0]) == 3:
            return True
        share = (v.region_area or 0.0) / ((v.length or 0.0) * (v.width or 0.0) or 1.0)
        return v.open_sides == 2 and 0.0 < share < TRIANGLE_SHARE

    @cached_property
    def _gone(self) -> list[bool]:
        """Of each open side, whether closed pockets and holes alone have eaten the floor before it reaches the side."""
        opens = [s for s in self.view.sides if s.open] if self.view else []
        own, floor = set(self.feature.faces), set(self.feature.bottom)
        shut = (*HOLE_KINDS, "closed_pocket")
        inner = {i for f in self.document.features if f.kind in shut for i in f.faces}
        reached = {e for s in opens for e in s.edges}
        beyond = {
            f
            for e in self.document.edges
            if floor & set(e.faces) and e.index not in reached
            for f in set(e.faces) - own
        }
        return [bool(beyond) and beyond <= inner and not s.edges for s in opens]

    @property
    def ends_in_pocket(self) -> bool:
        """A closed pocket or hole has eaten an end. Had the cut gone on, it would show beyond: it ended in there."""
        return any(self._gone)

    @property
    def was_closed(self) -> bool:
        """Every open side opens on a closed pocket or hole."""
        return bool(self._gone) and all(self._gone)

    @property
    def wall_surfaces(self) -> set[str]:
        """Surface kinds of the walls."""
        return {self._surface(f) for f in self.feature.walls}

    @property
    def surfaces(self) -> set[str]:
        """Surface kinds of the feature's faces without its blends."""
        return {self._surface(f) for f in self.feature.faces if f not in self.feature.blends}

    def _surface(self, index: int) -> str:
        face: Face = self.document.faces[index]
        return face.surface


def _unit(s: Side) -> np.ndarray:
    v = np.array(s.end) - np.array(s.start)
    return v / (np.linalg.norm(v) or 1.0)


def _collinear(a: Side, b: Side) -> bool:
    u = _unit(a)
    if np.dot(u, _unit(b)) < 0:  # the outline runs back along the same line: the two walls of a V meet there
        return False
    return all(np.linalg.norm(np.cross(np.array(p) - np.array(a.start), u)) < LENGTH_MM for p in (b.start, b.end))


def _corner(a: Side, b: Side) -> bool:
    straight = not a.open and not b.open and a.radius is None and b.radius is None
    meets = min(float(np.linalg.norm(np.array(p) - np.array(q))) for p in (a.start, a.end) for q in (b.start, b.end))
    return straight and meets < LENGTH_MM and _angle(a, b) > ANGLE_DEG


def _angle(a: Side, b: Side) -> float:
    return float(np.degrees(np.arccos(np.clip(np.dot(_unit(a), _unit(b)), -1.0, 1.0))))


def _corners(ring: list[tuple[float, float, float]]) -> int:
    """Corners of a closed polyline at which it turns by more than `ANGLE_DEG`."""
    p = np.array(ring)
    steps = np.roll(p, -1, axis=0) - p
    steps = steps[np.linalg.norm(steps, axis=1) > LENGTH_MM]
    units = steps / np.linalg.norm(steps, axis=1)[:, None]
    turns = np.degrees(np.arccos(np.clip((units * np.roll(units, -1, axis=0)).sum(axis=1), -1.0, 1.0)))
    return int((turns > ANGLE_DEG).sum())
