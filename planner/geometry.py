"""What recipes ask of a feature's view: plan-view region, room for a cutter, what it leaves, wall lengths, stick-out.

Lengths mm, areas mm2. Regions are seen along the view's direction, their plane axes chosen once per direction.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import shapely
from shapely import Polygon, unary_union
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from shared.features import Feature, FeaturesDocument, View
from shared.units import Vector

ENCLOSING = ("closed_pocket", "open_pocket", "slot", "round_hole", "counterbore_hole", "stepped_hole")
SAME_DIRECTION = 1.0 - 1e-6


def dot(a: Vector, b: Vector) -> float:
    """Dot product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def plane_axes(direction: Vector) -> tuple[Vector, Vector]:
    """Two unit vectors that with `direction` make a right-handed frame; the same ones for the same direction."""
    helper = (1.0, 0.0, 0.0) if abs(direction[0]) < 0.9 else (0.0, 1.0, 0.0)
    along = dot(helper, direction)
    u = tuple(h - along * d for h, d in zip(helper, direction, strict=True))
    size = math.sqrt(sum(c * c for c in u))
    ux, uy, uz = (c / size for c in u)
    dx, dy, dz = direction
    return (ux, uy, uz), (dy * uz - dz * uy, dz * ux - dx * uz, dx * uy - dy * ux)


NO_ROOM = 0.02
"""Mm: a width below this is a degenerate outline, not a gap that a cutter could pass."""
MEASURES = ("length", "width", "region_area", "corner_radius", "floor_radius", "narrowest_gap", "largest_cutter")


def finite(view: View) -> View:
    """The view with measures that are not finite or no real width taken as unknown: recipes have a fallback for those."""
    wrong: dict[str, None] = {n: None for n in MEASURES if view[n] is not None and not math.isfinite(view[n])}
    wrong |= {n: None for n in ("narrowest_gap", "largest_cutter") if n not in wrong and (view[n] or 0.0) < NO_ROOM}
    return view.model_copy(update=wrong) if wrong else view


def region(view: View) -> BaseGeometry | None:
    """The removed region in plan view, None where the view has no usable outline. First ring outside, others inside."""
    if not view.outline or len(view.outline[0]) < 3:
        return None
    return _region(view.direction, _rings(view))


Rings = tuple[tuple[Vector, ...], ...]
Lines = tuple[tuple[Vector, Vector], ...]
KEPT = 512
"""Answers about outlines that are kept: every recipe asks for many diameters, and every plan that is made again anew."""


def _rings(view: View) -> Rings:
    return tuple(map(tuple, view.outline))


@lru_cache(maxsize=KEPT)
def _region(direction: Vector, outline: Rings) -> BaseGeometry | None:
    u, v = plane_axes(direction)
    rings = [[(dot(p, u), dot(p, v)) for p in ring] for ring in outline if len(ring) >= 3]
    shape: BaseGeometry = Polygon(rings[0]).buffer(0)
    for ring in rings[1:]:
        inner = Polygon(ring).buffer(0)
        shape = shape.difference(inner) if shape.buffer(1e-3).contains(inner) else shape.union(inner)
    return None if shape.is_empty or shape.area < 1e-6 else shape


def opened(view: View, shape: BaseGeometry, margin: float) -> BaseGeometry:
    """The region enlarged by `margin` across its open sides: where a cutter may be besides the region itself."""
    return _opened(view.direction, _open_sides(view), shape, margin)


def _opened(direction: Vector, sides: Lines, shape: BaseGeometry, margin: float) -> BaseGeometry:
    open_ = _lines(direction, sides)
    if not open_:
        return shape
    extra = [line.buffer(margin, cap_style="flat") for line in open_]
    return unary_union([shape, *extra])


def _open_sides(view: View) -> Lines:
    return tuple((s.start, s.end) for s in view.sides if s.open)


def _lines(direction: Vector, sides: Lines) -> list[LineString]:
    """Sides in plan view."""
    u, v = plane_axes(direction)
    ends = [((dot(a, u), dot(a, v)), (dot(b, u), dot(b, v))) for a, b in sides]
    return [LineString(pair) for pair in ends if math.dist(*pair) >= 1e-6]


CHORD_BEND = math.radians(20.0)
"""Bends of an outline below this are those of an arc drawn in chords, not corners."""


def chord_bends(view: View) -> float:
    """What a cutter leaves in the bends between an outline's chords, over the square of its radius.

    tan(b / 2) - b / 2 in each bend b that an arc has there: geometry of a circle in a corner.
    """
    return _chord_bends(view.direction, _rings(view)) if region(view) is not None else 0.0


@lru_cache(maxsize=KEPT)
def _chord_bends(direction: Vector, outline: Rings) -> float:
    shape = _region(direction, outline)
    if shape is None:
        return 0.0
    total = 0.0
    for piece in getattr(shape, "geoms", [shape]):
        for ring in (piece.exterior, *piece.interiors):
            points = list(ring.coords)[:-1]
            for a, b, c in zip(points, points[1:] + points[:1], points[2:] + points[:2], strict=True):
                turn = math.atan2(c[1] - b[1], c[0] - b[0]) - math.atan2(b[1] - a[1], b[0] - a[0])
                bend = abs((turn + math.pi) % (2.0 * math.pi) - math.pi)
                total += math.tan(bend / 2.0) - bend / 2.0 if bend < CHORD_BEND else 0.0
    return total


@dataclass(frozen=True)
class Room:
    """What a cutter of one diameter does in a region: whether it fits somewhere, and the area it leaves uncut."""

    fits: bool
    left_area: float


def room_for(view: View, diameter: float) -> Room | None:
    """Where a cutter of `diameter` can go in the view's region; None where the outline is not known.

    The region opened (eroded, then dilated) by the cutter's radius is what the cutter cleans.
    """
    return None if region(view) is None else _room(view.direction, _rings(view), _open_sides(view), diameter)


@lru_cache(maxsize=KEPT)
def _room(direction: Vector, outline: Rings, open_sides: Lines, diameter: float) -> Room | None:
    shape = _region(direction, outline)
    if shape is None:
        return None
    radius = diameter / 2.0
    free = _opened(direction, open_sides, shape, diameter)
    centres = free.buffer(-radius + 1e-4)
    if centres.is_empty:
        return Room(False, shape.area)
    left = shape.difference(centres.buffer(radius))
    return Room(True, left.area)


def thickness_left(view: View, diameter: float) -> float:
    """Mm that what a cutter leaves in the view's region stands off what it cleans, at most; infinite where it is not known."""
    shape = region(view)
    if shape is None:
        return math.inf
    centres = opened(view, shape, diameter).buffer(-diameter / 2.0 + 1e-4)
    if centres.is_empty:
        return math.inf
    cleaned = centres.buffer(diameter / 2.0)
    left = shapely.points(shapely.get_coordinates(shape.difference(cleaned)))
    return float(shapely.distance(left, cleaned).max()) if len(left) else 0.0


def area_of(view: View) -> float:
    """Area of the region in mm2: as reported, else of the outline, else length times width."""
    if view.region_area:
        return view.region_area
    shape = region(view)
    if shape is not None:
        return float(shape.area)
    return (view.length or 0.0) * (view.width or 0.0)


def wall_length(view: View) -> float:
    """Length of the closed sides in mm, seen along the direction; of the outline where sides are not listed."""
    total = sum(side.length for side in view.sides if not side.open)
    shape = region(view)
    if total or view.sides:
        return total
    if shape is not None:
        return float(shape.length)
    return 2.0 * ((view.length or 0.0) + (view.width or 0.0))


def stick_out(feature: Feature, view: View, document: FeaturesDocument) -> float:
    """Reach needed in mm: the depth, and the depth of pockets and holes that this feature lies in.

    A cutter's holder does not enter a parent that encloses it, so the parent's depth counts in full: on the safe side.
    """
    by_id = {f.id: f for f in document.features}
    top, seen, queue = view.top, {feature.id}, list(feature.inside)
    while queue:
        parent = by_id.get(queue.pop())
        if parent is None or parent.id in seen:
            continue
        seen.add(parent.id)
        queue.extend(parent.inside)
        for other in parent.views:
            if other.kind in ENCLOSING and dot(other.direction, view.direction) > SAME_DIRECTION:
                top = max(top, other.top)
    return max(view.depth, top - view.bottom)


def room_round(feature: Feature, view: View, document: FeaturesDocument) -> float:
    """How far the nearest wall that rises beside a hole's mouth is from its axis, mm; infinite for none.

    Walls of the cuts that it opens on, seen along the same direction; sides that are open rise nowhere.
    """
    if feature.axis is None:
        return math.inf
    u, v = plane_axes(view.direction)
    centre = Point(dot(feature.axis.origin, u), dot(feature.axis.origin, v))
    by_id = {f.id: f for f in document.features}
    walls = [
        LineString([(dot(side.start, u), dot(side.start, v)), (dot(side.end, u), dot(side.end, v))])
        for parent in (by_id[name] for name in feature.inside if name in by_id)
        for other in parent.views
        if dot(other.direction, view.direction) > SAME_DIRECTION and other.top > view.top + 0.01
        for side in other.sides
        if not side.open and side.start != side.end
    ]
    return min((float(wall.distance(centre)) for wall in walls), default=math.inf)


def part_top(direction: Vector, document: FeaturesDocument) -> float:
    """Highest level of the part along `direction`: exact along the part's own axes, else of the box's corners."""
    frame, box = document.part.frame, document.part.frame_box
    level = 0.0
    for axis, low, high in zip(frame, box.min, box.max, strict=True):
        share = dot(axis, direction)
        level += share * (high if share > 0 else low)
    return level


def allowance_along(direction: Vector, allowance: tuple[float, ...], document: FeaturesDocument) -> float:
    """Raw material in mm on the side that `direction` points to; for a slanted direction what lies above on its axes."""
    total = 0.0
    for i, axis in enumerate(document.part.frame):
        share = dot(axis, direction)
        total += abs(share) * allowance[2 * i + (1 if share > 0 else 0)] if abs(share) > 1e-6 else 0.0
    return total


def side_allowance(direction: Vector, allowance: tuple[float, ...], document: FeaturesDocument) -> float:
    """Largest raw material in mm on the sides across `direction`."""
    across = [
        allowance[2 * i + k]
        for i, axis in enumerate(document.part.frame)
        for k in (0, 1)
        if abs(dot(axis, direction)) < 0.99
    ]
    return max(across, default=0.0)


def block_area(direction: Vector, allowance: tuple[float, ...], document: FeaturesDocument) -> float:
    """Area in mm2 of the raw block seen along one of the part's own axes; 0 for a slanted direction."""
    box = document.part.frame_box
    sizes = [
        h - low + allowance[2 * i] + allowance[2 * i + 1]
        for i, (low, h) in enumerate(zip(box.min, box.max, strict=True))
    ]
    for i, axis in enumerate(document.part.frame):
        if abs(dot(axis, direction)) > SAME_DIRECTION:
            return sizes[i - 1] * sizes[i - 2]
    return 0.0
