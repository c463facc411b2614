"""Regions whose flat floors lie at several levels: a pocket with a deeper part, or with a rib or island lower than its rim.

Each floor is a terrace: the region is cleared down to the highest one all over, then within what lies lower, and so on
down. The features document tells floors by the boxes of their faces; where these overlap, the largest cutter that is
thought to fit may be too large, and the simulation, which knows the faces themselves, refuses it.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import replace

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from planner.geometry import SAME_DIRECTION, dot, plane_axes, region
from planner.recipes.base import Recipe
from planner.recipes.practice import FLOOR_ALLOWANCE
from planner.recipes.task import Task
from shared.features import Feature, FeaturesDocument, View
from shared.plan import Operation
from shared.units import Mm, Vector

APART: Mm = 0.02
"""Floors that differ by less lie at one level."""
WITHIN = 0.5
"""Share of a face's box that must lie within the region for the face to be a floor of it, not the top of an island."""
WHOLE = 0.8
"""Share of its box that a face fills to be taken for a rectangle."""
ARC_BEND = math.radians(20.0)
"""Bends of an outline below this are those of an arc drawn in chords, not corners."""
NEAR: Mm = 0.05
FINEST: Mm = 0.05
"""How finely the largest cutter that fits is searched."""

Box = tuple[tuple[Mm, Mm], tuple[Mm, Mm], tuple[Mm, Mm]]
"""Least and largest (u, v, level) of a face along a view's plane axes and direction."""
Floors = list[tuple[Mm, list[int]]]


def floors_of(feature: Feature, view: View, document: FeaturesDocument) -> Floors:
    """(level, faces) of the flat floors within a view's region, highest first; none where the direction is a slanted one."""
    shape = region(view)
    if shape is None or not any(abs(dot(a, view.direction)) > SAME_DIRECTION for a in document.part.frame):
        return []
    found: Floors = []
    boxes = _boxes(feature.bottom, view, document)
    for face, box in sorted(boxes.items(), key=lambda item: (-item[1][2][1], item[0])):
        low, high = box[2]
        plan = _plan(box)
        if high - low > APART or plan.area < APART or plan.intersection(shape).area < WITHIN * plan.area:
            continue
        if found and found[-1][0] - high < APART:
            found[-1][1].append(face)
        else:
            found.append((high, [face]))
    return found


def leaning_floors(feature: Feature, view: View, document: FeaturesDocument) -> list[int]:
    """Plane faces that lean within a view's region and are none of its sides: no level is right for them."""
    shape = region(view)
    if shape is None or not any(abs(dot(a, view.direction)) > SAME_DIRECTION for a in document.part.frame):
        return []
    sides = {f for s in view.sides for f in s.faces}
    surfaces = {f.index: f.surface for f in document.faces}
    found = []
    for face, box in _boxes([f for f in feature.faces if f not in sides], view, document).items():
        inside = _plan(box).area > APART and _plan(box).intersection(shape).area > WITHIN * _plan(box).area
        if surfaces[face] == "plane" and inside and min(high - low for low, high in box) > APART:
            found.append(face)
    return found


def tasks_of(task: Task, floors: Floors, document: FeaturesDocument) -> list[Task]:
    """The region of a view in terraces from the top down, each a task of its own."""
    view, feature = task.view, task.feature
    levels = [level for level, _ in floors if level > view.bottom + APART] + [view.bottom]
    boxes = _boxes(feature.faces, view, document)
    out: list[Task] = []
    top, upper = view.top, [f for level, faces in floors if level > view.bottom + APART for f in faces]
    for level in levels:
        last = level == levels[-1]
        own = [f for at, faces in floors if abs(at - level) < APART for f in faces]
        shape = _room(view, floors, boxes, level, document)
        part = _part(view, shape, top, level, boxes, through=view.through and last)
        walls = [
            f
            for f, b in boxes.items()
            if _is_wall(b, document, f) and b[2][0] < top - APART and b[2][1] > level + APART
        ]
        floor = [f for f in task.floor if f not in upper and f not in walls] if last else own
        fit = part.largest_cutter or task.fit
        out.append(
            replace(
                task, view=part, reach=task.reach - (level - view.bottom), fit=fit, gap=min(part.narrowest_gap or fit, fit),
                corner=part.corner_radius, area=shape.area, walls=sorted(walls), floor=floor, through=part.through,
                fillet=part.floor_radius or 0.0,
            )
        )  # fmt: skip
        top = level + FLOOR_ALLOWANCE  # so much of the terrace above stays until it is finished
    return out


def said(recipe: Recipe, first: int, number: int, of: int, level: Mm) -> None:
    """Says of the operations from `first` on which terrace they cut."""
    for op in recipe.operations[first:]:
        op.because.append(
            f"floors at {of} levels: this one down to level {level:g}, terrace {number} of {of} from the top"
        )


def roughed_first(recipe: Recipe, first: list[Operation]) -> None:
    """All terraces are roughed before any is finished: what a deep cut lets go does not move a wall at size."""
    every = [*first, *(op for op in recipe.operations if not any(op is rough for rough in first))]
    recipe.operations = []
    for op in every:
        name, after = recipe.next_id(), recipe.last()
        recipe.operations.append(op.model_copy(update={"id": name, "after": after}))


def _boxes(faces: Collection[int], view: View, document: FeaturesDocument) -> dict[int, Box]:
    """Where faces lie along the view's plane axes and its direction; faces without a box are left out."""
    axes: tuple[Vector, ...] = (*plane_axes(view.direction), view.direction)
    out: dict[int, Box] = {}
    for face in document.faces:
        if face.index in faces and face.box is not None:
            spans = []
            for axis in axes:
                ends = [
                    (dot(own, axis) * low, dot(own, axis) * high)
                    for own, low, high in zip(document.part.frame, face.box.min, face.box.max, strict=True)
                ]
                spans.append((sum(min(e) for e in ends), sum(max(e) for e in ends)))
            out[face.index] = (spans[0], spans[1], spans[2])
    return out


def _plan(box: Box) -> BaseGeometry:
    (u0, u1), (v0, v1), _ = box
    return shapely.box(u0, v0, u1, v1)


def _is_wall(box: Box, document: FeaturesDocument, face: int) -> bool:
    """Whether a face stands up: it has height, and is no floor that leans within its box."""
    found = next(f for f in document.faces if f.index == face)
    (u0, u1), (v0, v1), (low, high) = box
    upright = min(u1 - u0, v1 - v0) < APART or found.surface != "plane"
    return high - low > APART and upright


def _room(view: View, floors: Floors, boxes: dict[int, Box], level: Mm, document: FeaturesDocument) -> BaseGeometry:
    """What is cleared at a level: all of the region but the floors above it."""
    shape = region(view)
    assert shape is not None
    areas = {f.index: f.area for f in document.faces}
    higher = [f for at, faces in floors if at > level + APART for f in faces]
    lower = [f for at, faces in floors if at < level + APART for f in faces]
    if not higher:
        return shape
    squares = [f for f in higher if areas[f] > WHOLE * _plan(boxes[f]).area]
    left = shape.difference(shapely.union_all([_plan(boxes[f]) for f in squares])) if squares else shape
    if lower and len(squares) < len(higher):
        left = left.intersection(shapely.union_all([_plan(boxes[f]) for f in lower]))
    parts = [p for p in shapely.get_parts(left) if p.geom_type == "Polygon" and p.area > APART]
    return shapely.union_all(parts) if parts else shape


def _part(view: View, shape: BaseGeometry, top: Mm, level: Mm, boxes: dict[int, Box], *, through: bool) -> View:
    """The view of one terrace: its levels, outline, sides, and what cutters must respect in it."""
    border = shape.boundary
    u, v = plane_axes(view.direction)
    middles = [shapely.Point(*(0.5 * (dot(s.start, x) + dot(s.end, x)) for x in (u, v))) for s in view.sides]
    sides = [s for s, m in zip(view.sides, middles, strict=True) if border.distance(m) < NEAR or not s.open]
    opens = sum(s.open for s in sides)
    closed = opens == 0 and view.open_sides > 0
    sharp = _sharp_corners(
        shape, [b for b in boxes.values() if b[2][0] < top - APART and b[2][1] > level + APART], view
    )
    rooms = [_largest(p) for p in shapely.get_parts(shape)]
    whole = shape.equals(region(view))
    own = {
        "outline": _rings(shape, view.direction, level),
        "narrowest_gap": min([*rooms, view.narrowest_gap or math.inf]), "largest_cutter": max(rooms),
        "corner_radius": 0.0 if sharp else view.corner_radius, "corner_count": sharp or view.corner_count,
        "region_area": shape.area, "kind": "closed_pocket" if closed else view.kind,
        "length": _extents(shape)[1], "width": _extents(shape)[0],
    }  # fmt: skip
    levels = {"top": top, "bottom": level, "depth": top - level, "through": through}
    return view.model_copy(update={**levels, **({} if whole else own), "sides": sides, "open_sides": opens})


def _extents(shape: BaseGeometry) -> tuple[Mm, Mm]:
    low_u, low_v, high_u, high_v = max(shapely.get_parts(shape), key=lambda p: p.area).bounds
    width, length = sorted((high_u - low_u, high_v - low_v))
    return width, length


def _largest(shape: BaseGeometry) -> Mm:
    """Diameter of the largest circle in a region."""
    low, high = 0.0, min(_extents(shape))
    while high - low > FINEST:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if shape.buffer(-0.5 * middle).is_empty else (middle, high)
    return high


def _sharp_corners(shape: BaseGeometry, walls: list[Box], view: View) -> int:
    """Inner corners of a terrace that no upright radius rounds; not those at open sides."""
    u, v = plane_axes(view.direction)
    opens = shapely.MultiLineString([[(dot(p, u), dot(p, v)) for p in (s.start, s.end)] for s in view.sides if s.open])
    rounds = [b for b in walls if min(high - low for low, high in b) > APART]
    count = 0
    for piece in shapely.get_parts(shape):
        ring = list(shapely.geometry.polygon.orient(piece).exterior.coords)[:-1]
        for a, b, c in zip(ring[-1:] + ring[:-1], ring, ring[1:] + ring[:1], strict=True):
            turn = math.atan2(c[1] - b[1], c[0] - b[0]) - math.atan2(b[1] - a[1], b[0] - a[0])
            bend = (turn + math.pi) % (2.0 * math.pi) - math.pi
            here = shapely.Point(b)
            rounded = any(_plan(r).distance(here) < NEAR for r in rounds)
            count += bend > ARC_BEND and not rounded and (opens.is_empty or opens.distance(here) > NEAR)
    return count


def _rings(shape: BaseGeometry, direction: Vector, level: Mm) -> list[list[Vector]]:
    """Rings of a region in the part's coordinates."""
    u, v = plane_axes(direction)

    def ring(points: object) -> list[Vector]:
        return [
            (a * u[0] + b * v[0] + level * direction[0], a * u[1] + b * v[1] + level * direction[1],
             a * u[2] + b * v[2] + level * direction[2])
            for a, b, *_ in list(points)[:-1]  # type: ignore[call-overload]
        ]  # fmt: skip

    parts: list[Polygon] = sorted(shapely.get_parts(shape), key=lambda p: -p.area)
    return [ring(r.coords) for p in parts for r in (p.exterior, *p.interiors)]
