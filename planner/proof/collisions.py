"""What the cutter and what holds it must not meet: workpiece, jaws, material where it enters or moves in rapids.

Each operation is looked at with the workpiece as it is before and after it. Behind the cutter's usable length stands
its own holder where the cutter file gives one, else the nut of a collet chuck that takes its shank.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
import shapely.ops
from shapely.geometry.base import BaseGeometry

from planner.proof.cutter import profile_of
from planner.proof.fixtures import Jaw
from planner.proof.material import Workpiece
from planner.proof.plane import Plane
from planner.proof.rays import Array
from planner.proof.standing import Heights, Place
from planner.proof.strokes import Stroke
from shared.plan import Operation, Setup, Tool

Kind = Literal["holder", "neck", "jaws", "entry", "rapid"]
"""As in shared.plan.Collision."""
NEAR = 0.05
"""Mm that may be met: the tolerance of the simulation."""
NUTS = ((7.0, 19.0), (10.0, 28.0), (13.0, 34.0), (16.0, 42.0), (20.0, 50.0), (26.0, 63.0))
"""(largest shank, diameter of the clamping nut) of collet chucks ER 11 to ER 40; ISO 15488 sizes, from memory."""
NUT_LONG = 20.0
"""Mm that a nut is long at least; behind it comes the chuck, no slimmer."""
CANDIDATES = 48
"""Places at which an entry is tried."""
SOLID_HEADS = ("t_slot_mill", "dovetail_mill")


@dataclass(frozen=True)
class Hit:
    """Something that must not meet does. over: mm deep. at: (3,) in the frame. assumed: the holder is no given one."""

    kind: Kind
    setup: Setup
    operation: Operation | None
    over: float
    at: Array
    text: str
    assumed: bool = False


def holder_of(tool: Tool) -> tuple[list[tuple[float, float]], bool]:
    """(diameter, level over the tip) of what stands behind the usable length, and whether it is assumed."""
    if tool.LU is None:
        return [], False
    if tool.holder:
        starts = tool.LU + np.concatenate([[0.0], np.cumsum([length for _, length in tool.holder])[:-1]])
        return [(d, float(at)) for (d, _), at in zip(tool.holder, starts, strict=True)], False
    nut = next((nut for shank, nut in NUTS if shank >= tool.DC), None)
    return ([(nut, tool.LU)] if nut and tool.kind != "facemill" else []), True


def collisions(
    setup: Setup, operation: Operation, strokes: list[Stroke], there: Heights, left: Heights
) -> Iterator[Hit]:
    """What one operation meets in the workpiece. there, left: the workpiece before and after it along the setup."""
    for stroke in strokes:
        if not stroke.sweeps:
            continue
        yield from _holder(setup, operation, stroke, left)
        if stroke.centres.is_empty:
            continue
        yield from _neck(setup, operation, stroke, there)
        yield from _entry(setup, operation, stroke, there)


def _holder(setup: Setup, operation: Operation, stroke: Stroke, left: Heights) -> Iterator[Hit]:
    stack, assumed = holder_of(operation.tool)
    worst: tuple[Place, float, float] | None = None
    for diameter, over_tip in stack:
        for where, tip in stroke.stands:
            place = left.above(where, diameter / 2.0, tip + over_tip + NEAR)
            if place and (worst is None or place.over > worst[0].over):
                worst = (place, diameter, over_tip)
    if worst:
        place, diameter, over_tip = worst
        what = f"a collet nut of {diameter:g} mm (assumed)" if assumed else f"its holder of {diameter:g} mm"
        text = f"{operation.id}: {what}, {over_tip:g} mm over the tip, runs {place.over:.2f} mm into the workpiece"
        yield Hit("holder", setup, operation, place.over, place.at, text, assumed)


def _neck(setup: Setup, operation: Operation, stroke: Stroke, there: Heights) -> Iterator[Hit]:
    """The neck of a tee slot or dovetail cutter runs in room that is there before."""
    tool = operation.tool
    if tool.kind not in SOLID_HEADS:
        return
    profile = profile_of(tool)
    level = stroke.tip + profile.reach * max(1, operation.passes.axial_count)
    place = there.above(stroke.centres, profile.neck, max(level, operation.levels.top) + NEAR)
    if place:
        text = f"{operation.id}: its neck of {2 * profile.neck:g} mm meets material {place.over:.2f} mm high"
        yield Hit("neck", setup, operation, place.over, place.at, text)


def _entry(setup: Setup, operation: Operation, stroke: Stroke, there: Heights) -> Iterator[Hit]:
    """It comes down in rapids to the top of its levels, and where it says so on to its bottom, in free room."""
    radius = profile_of(operation.tool).radius
    level = operation.levels.top
    if operation.tool.kind in ("endmill", "ball_endmill", "bullnose_endmill", "facemill"):
        radius = operation.tool.DC / 2.0
    outside = operation.entry.startswith("from outside")
    if outside:
        level = min(level, stroke.tip + operation.passes.axial_depth * max(0, operation.passes.axial_count - 1))
    if operation.entry.startswith("plunge_toolaxis"):
        yield from _straight_down(setup, operation, stroke, there)
        return
    places = _places(stroke.centres, 2.0 * radius + APPROACH if outside else 0.0)
    if not len(places) or there.free(places, radius - NEAR, level + NEAR):
        return
    # What is fed through from outside is cut anyway: only the part is a wall there.
    walls = there.walls() if outside else there
    if outside and walls.free(places, radius - NEAR, level + NEAR):
        return
    place = walls.above(shapely.Point(places[0]), radius, level + NEAR)
    if place is None:
        return
    text = (
        f"{operation.id}: there is no free place to come down to level {level:.2f} ({operation.entry}): material stands "
        f"{place.over:.2f} mm over it"
    )
    yield Hit("entry", setup, operation, place.over, place.at, text)


def _straight_down(setup: Setup, operation: Operation, stroke: Stroke, there: Heights) -> Iterator[Hit]:
    """A drill's rapid ends over its top level: no material may stand above that."""
    radius = 0.5 * operation.tool.DC
    place = there.above(stroke.centres, max(radius, NEAR), operation.levels.top + APPROACH)
    if place:
        text = (
            f"{operation.id}: its rapid down to level {operation.levels.top:.2f} meets material {place.over + APPROACH:.2f} "
            "mm over it"
        )
        yield Hit("rapid", setup, operation, place.over, place.at, text)


APPROACH = 1.0
"""Mm over the top level where rapids end at the earliest; common practice is 1 to 3 mm, no source."""


def _places(where: BaseGeometry, beyond: float) -> Array:
    """(k, 2) places of a region to come down at: along its boundary, and one inside each of its parts."""
    parts = [p for p in shapely.get_parts(where) if not p.is_empty]
    points = [shapely.get_coordinates(shapely.point_on_surface(p)) for p in parts[:8]]
    rough = shapely.simplify(where, 0.1)
    lines = [p.exterior if p.geom_type == "Polygon" else p for p in shapely.get_parts(rough) if p.geom_type != "Point"]
    if beyond > 0.0:
        lines = [ring.exterior for ring in shapely.get_parts(rough.buffer(beyond, 2))] + lines
    length = sum(line.length for line in lines)
    for line in lines:
        count = max(2, round(CANDIDATES * line.length / length))
        points.insert(
            0, shapely.get_coordinates(shapely.line_interpolate_point(line, np.linspace(0.0, line.length, count)))
        )
    return np.vstack(points) if points else np.empty((0, 2))


def jaw_hits(setup: Setup, operation: Operation, strokes: list[Stroke], jaws: list[Jaw], plane: Plane) -> Iterator[Hit]:
    """Cutter or holder against the jaws; directions that are no axis of the frame are not looked at."""
    if plane.axis is None:
        return
    stack, assumed = holder_of(operation.tool)
    profile = profile_of(operation.tool)
    cutter = [(float(r), float(h)) for r, h in zip(profile.radii, profile.heights, strict=True)]
    holder = [(d / 2.0, over) for d, over in stack]
    for jaw in jaws:
        for bodies, guess in [(cutter, False), (holder, True)] if assumed else [(cutter + holder, False)]:
            if hit := _into_jaw(setup, operation, strokes, jaw, plane, bodies, guess):
                yield hit
                break


def _into_jaw(
    setup: Setup,
    operation: Operation,
    strokes: list[Stroke],
    jaw: Jaw,
    plane: Plane,
    bodies: list[tuple[float, float]],
    assumed: bool,
) -> Hit | None:
    """How deep bodies ((radius, level over the tip) each) run into a jaw."""
    corners = np.array([jaw.low, jaw.high])
    top = float((corners @ plane.d).max())
    flat = plane.flat(corners)
    block = shapely.box(*flat.min(axis=0), *flat.max(axis=0))
    stands = [x for stroke in strokes if stroke.sweeps for x in stroke.stands if not x[0].is_empty]
    hits = [
        (top - tip - over, k)
        for k, (where, tip) in enumerate(stands)
        for r, over in bodies
        if top - tip - over > NEAR and where.distance(block) < r - NEAR
    ]
    if not hits:
        return None
    deep, k = max(hits)
    near = shapely.get_coordinates(shapely.ops.nearest_points(block, stands[k][0])[0])[0]
    what = "its assumed collet nut" if assumed else "it"
    text = f"{operation.id}: {what} runs into the jaw on {jaw.side}, {deep:.2f} mm below its top"
    return Hit("jaws", setup, operation, deep, plane.point(near, top), text, assumed)


def low_clearance(setup: Setup, before: Workpiece, jaws: list[Jaw], plane: Plane) -> Iterator[Hit]:
    """Rapids across run at the clearance plane, over workpiece and jaws."""
    tops: list[tuple[float, Array]] = []
    for material in before:
        bundle, there = material.pieces.bundle, material.there
        for end in (there.low, there.high):
            over = bundle.levels(there.ray, end, plane.d)
            if len(over):
                k = int(np.argmax(over))
                tops.append((float(over[k]), bundle.points(there.ray[k : k + 1], end[k : k + 1])[0]))
    for jaw in jaws:
        corner = np.where(plane.d > 0, jaw.high, jaw.low)
        tops.append((float(corner @ plane.d), corner))
    if not tops:
        return
    top, at = max(tops, key=lambda t: t[0])
    if top > setup.clearance - NEAR:
        text = f"{setup.id}: rapids at clearance {setup.clearance:.2f} run through what stands {top - setup.clearance:.2f} mm over it"
        yield Hit("rapid", setup, None, top - setup.clearance, at, text)
