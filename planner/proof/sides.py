"""Sides of a view as lines in the plane across its direction: laid on the outline, led on past their ends, and what lies
behind them.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from planner.proof.plane import Plane
from planner.proof.rays import Array
from shared.features import Side

NEAR = 0.02
"""Mm: a piece of an outline this near a side's line lies on it."""
SHORT = 0.2
"""Mm: shorter pieces between sides are corners cut off, not boundaries of their own."""
OUT = 0.05
"""Mm beyond an unexplained boundary where the part is looked for."""
ON = 1e-3
"""Mm: a side's line that is this near the outline all along is the outline."""
GRID = 1e-4
"""Mm: points of an outline and of its sides that are nearer than this are one, where they are put together."""
LEAD = 60.0
"""Mm that a wall is led on past its end: further than a cutter goes out."""


def leads_of(upright: list[BaseGeometry], walls: list[BaseGeometry], area: BaseGeometry) -> BaseGeometry:
    """Upright walls' ends at open sides, each led on straight as far as it does not come into the area again."""
    out = []
    every = shapely.union_all(walls)
    inner = area.buffer(-NEAR)
    for wall in upright:
        for line in lines_in(wall):
            points = shapely.get_coordinates(line.simplify(NEAR / 10.0))
            for end, before in ((points[0], points[1]), (points[-1], points[-2])):
                size = float(np.hypot(*(end - before)))
                if size < SHORT or every.difference(line.buffer(NEAR)).distance(shapely.Point(end)) < 2.0 * NEAR:
                    continue
                lead = shapely.LineString([end, end + LEAD * (end - before) / size])
                meets = lead.intersection(inner)
                free = lead.length if meets.is_empty else lead.project(shapely.Point(_first_on(lead, meets)))
                if free > SHORT:
                    out.append(substring(lead, 0.0, free))
    return shapely.union_all(out) if out else shapely.LineString()


def _first_on(line: BaseGeometry, places: BaseGeometry) -> Array:
    """Of some places on a line the one that comes first."""
    points = shapely.get_coordinates(places)
    return np.asarray(points[int(np.argmin(shapely.line_locate_point(line, shapely.points(points))))])


def snapped(line: BaseGeometry, rim: BaseGeometry) -> BaseGeometry:
    """A side's line, as the outline has it where it runs along it: a side may start and end on the chords of an arc."""
    if line.difference(rim.buffer(ON)).length < ON:
        return line
    own = rim.intersection(line.buffer(NEAR, cap_style="flat"))
    runs_along = line.difference(rim.buffer(NEAR)).length < SHORT
    return own if runs_along and own.length > 0.5 * line.length else line


def within(
    area: BaseGeometry, walls: list[BaseGeometry], sides: list[Side], plane: Plane, frame: Array
) -> BaseGeometry:
    """The area without what lies behind walls that run through it, as where a bevel makes the mouth wider than the floor.

    Sides run round the outline one way, so that what is cut lies on the same hand of all of them.
    """
    across = [(w, s) for w, s in zip(walls, sides, strict=True) if w.difference(edge(area).buffer(NEAR)).length > SHORT]
    if not across or area.is_empty:
        return area
    pieces = polygons_in(shapely.polygonize([shapely.union_all([edge(area), *walls], grid_size=GRID)]))
    pieces = [p for p in pieces if area.contains(p.representative_point())]
    hand = sum(_hand(w, s, pieces, plane, frame) for w, s in zip(walls, sides, strict=True))
    behind = [p for p in pieces if any(_hand(w, s, [p], plane, frame) * hand < 0.0 for w, s in across)]
    kept = shapely.union_all([p for p in pieces if p not in behind])
    return kept if kept.area > 0.0 else area


def _hand(wall: BaseGeometry, side: Side, pieces: list[BaseGeometry], plane: Plane, frame: Array) -> float:
    """Mm of a side that have pieces on their left, less those that have them on their right."""
    a, b = plane.flat(np.array([side.start, side.end]) @ frame.T)
    total = 0.0
    if side.radius is not None or np.allclose(a, b):
        return total
    left = np.array([a[1] - b[1], b[0] - a[0]]) / np.hypot(*(b - a))
    for piece in pieces:
        own = edge(piece).intersection(wall.buffer(1e-4))
        if own.length > SHORT:
            p = shapely.get_coordinates(shapely.line_interpolate_point(_longest(own), 0.5, normalized=True))[0]
            total += own.length * (1.0 if piece.contains(shapely.Point(p + OUT * left)) else -1.0)
    return total


def _longest(lines: BaseGeometry) -> BaseGeometry:
    return max(lines_in(lines), key=lambda line: line.length)


def side_line(side: Side, rings: list[Array], plane: Plane, frame: Array) -> BaseGeometry:
    """A side as a line; one that bends is followed along the ring it lies on."""
    straight = _line(side, plane, frame)
    if abs(straight.length - side.length) <= NEAR:
        return straight
    return _along_ring(side, rings, plane, frame) or straight


def _line(side: Side, plane: Plane, frame: Array) -> BaseGeometry:
    return shapely.LineString(plane.flat(np.array([side.start, side.end]) @ frame.T))


def _along_ring(side: Side, rings: list[Array], plane: Plane, frame: Array) -> BaseGeometry | None:
    """The stretch of a ring between a side's ends whose length is nearest to the side's."""
    ends = plane.flat(np.array([side.start, side.end]) @ frame.T)
    best: tuple[float, BaseGeometry] | None = None
    for ring in rings:
        line = shapely.LineString(np.vstack([ring, ring[:1]]))
        a, b = (line.project(shapely.Point(p)) for p in ends)
        if max(line.interpolate(t).distance(shapely.Point(p)) for t, p in zip((a, b), ends, strict=True)) > 0.5:
            continue
        for piece in _stretches(line, a, b):
            miss = abs(piece.length - side.length)
            if best is None or miss < best[0]:
                best = (miss, piece)
    return best[1] if best else None


def _stretches(line: BaseGeometry, a: float, b: float) -> list[BaseGeometry]:
    a, b = sorted((a, b))
    return [substring(line, a, b), shapely.union_all([substring(line, b, line.length), substring(line, 0.0, a)])]


def edge(area: BaseGeometry) -> BaseGeometry:
    """The boundary of a region, empty where it has none."""
    return shapely.union_all([shapely.boundary(p) for p in polygons_in(area)])


def lines_in(what: BaseGeometry) -> list[BaseGeometry]:
    """The lines that pieces make together."""
    return [g for g in shapely.get_parts(shapely.line_merge(what)) if g.geom_type == "LineString"]


def polygons_in(area: BaseGeometry) -> list[shapely.Polygon]:
    """The polygons of a geometry."""
    return [p for p in shapely.get_parts(area) if p.geom_type == "Polygon"]
