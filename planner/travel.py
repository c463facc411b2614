"""Rapids across the workpiece: from feature to feature with one cutter, and from hole to hole of a group."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from planner.geometry import dot, plane_axes
from shared.features import FeaturesDocument
from shared.plan import Operation
from shared.units import Vector

Place = tuple[float, float]


def places_of(document: FeaturesDocument) -> dict[str, Vector]:
    """A point of each feature in the part's coordinates: on a hole's axis, else the middle of its faces' box."""
    boxes = {f.index: f.box for f in document.faces}
    frame = document.part.frame
    places: dict[str, Vector] = {}
    for feature in document.features:
        mine = [box for i in feature.faces if (box := boxes.get(i))]
        if feature.axis is not None:
            places[feature.id] = feature.axis.origin
        elif mine:
            middle = [(min(b.min[k] for b in mine) + max(b.max[k] for b in mine)) / 2.0 for k in range(3)]
            places[feature.id] = tuple(
                sum(m * axis[c] for m, axis in zip(middle, frame, strict=True)) for c in range(3)
            )  # type: ignore[assignment]
    return places


def add_travel(operations: Sequence[Operation], places: Mapping[str, Vector], direction: Vector, rapid: float) -> None:
    """Adds each operation's rapids at the clearance plane to its `rapid_length` and minutes; `rapid` in mm/min.

    Holes are visited nearest first. What follows a change of cutter starts from the change, whose time from chip to
    chip covers the way. Vertical rapids are in the minutes already; acceleration is left out.
    """
    u, v = plane_axes(direction)
    at: Place | None = None
    tool = ""
    for op in operations:
        if op.tool.id != tool:
            at, tool = None, op.tool.id
        goals = [(dot(places[name], u), dot(places[name], v)) for name in op.features if name in places]
        length, at = _nearest_first(at, goals)
        op.rapid_length = length
        op.minutes += length / rapid


def _nearest_first(at: Place | None, places: list[Place]) -> tuple[float, Place | None]:
    """Length of the way from `at` through all places, always to the nearest next, and where it ends."""
    left, length = list(places), 0.0
    while left:
        after = min(left, key=lambda p: (math.dist(at, p) if at else 0.0, p))
        length += math.dist(at, after) if at else 0.0
        left.remove(after)
        at = after
    return length, at
