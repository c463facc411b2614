"""Regions of a view's outline, its walls, and the places that a cutter's centre may take to clear it.

The two documents are read here: the outline and the open and closed sides of the view that an operation cuts. The part
itself is asked only about pieces of an outline that no side explains.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from planner.proof.plane import Plane
from planner.proof.rays import Array
from planner.proof.sweeps import DISC
from shared.features import Side, View

NEAR = 0.02
"""Mm: a piece of an outline this near a side's line lies on it."""
OUT = 0.05
"""Mm beyond an unexplained boundary where the part is looked for."""
UPRIGHT, STEEPEST = 0.1, 80.0
"""Degrees of draft between which a wall leans."""
MANY = 24
"""Lines from which on they are grown one by one."""
LEAD = 60.0
"""Mm that a wall is led on past its end: further than a cutter goes out."""
SHORT = 0.2
"""Mm: shorter pieces between sides are corners cut off, not boundaries of their own."""
ON = 1e-3
"""Mm: a side's line that is this near the outline all along is the outline."""
GRID = 1e-4
"""Mm: points of an outline and of its sides that are nearer than this are one, where they are put together."""
ARC_TURN = 16.0
"""Degrees a chord: the outline's arcs come in chords of about 10 degrees; sharper turns are corners."""
ARC_FIT = 2e-3
"""Mm that neighbouring chords' circles may differ by, a thousandth of their radius added."""
FINE = math.radians(1.0)
"""A refined arc's chords turn this much: they lie within 4e-5 of the radius."""


@dataclass(frozen=True)
class Region:
    """What an operation clears, in the plane across its direction. walls: lines that the cutter must keep off. leans:
    those of them that lean away going up, with their draft in radians; stands_in: mm that each stands further in at the
    level that is cut; empty at the outline's own level. leads: where upright walls end at open sides, straight on. rim:
    raw stock beyond open sides, which is part of the area.
    """

    area: BaseGeometry
    walls: BaseGeometry
    leans: tuple[tuple[BaseGeometry, float], ...] = ()
    stands_in: tuple[float, ...] = ()
    leads: BaseGeometry = field(default_factory=shapely.LineString)
    rim: BaseGeometry = field(default_factory=shapely.Polygon)
    _centres: dict[tuple[float, float], BaseGeometry] = field(default_factory=dict, repr=False, compare=False)

    def at_depth(self, depth: float, edge_radius: float) -> Region:
        """The region for a cutter whose tip is `depth` below the outline: leaning walls stand further in there.

        Plane geometry: a corner radius RE touches a wall that leans by t at RE (1 - sin t) over the tip, which lets the
        cutter RE (1 - (1 - sin t) / cos t) nearer to the wall's line at the tip.
        """
        lets = [edge_radius * (1.0 - (1.0 - math.sin(t)) / math.cos(t)) for _, t in self.leans]
        return replace(
            self,
            stands_in=tuple(depth * math.tan(t) - let for (_, t), let in zip(self.leans, lets, strict=True)),
            _centres={},
        )

    def kept_off(self, by: float) -> BaseGeometry:
        """Where a cutter's centre does not go: nearer than `by` to the walls."""
        if self.walls.is_empty:
            return shapely.Polygon()
        if not self.stands_in:
            return around(self.walls, by)
        leaning = [line for line, _ in self.leans]
        upright = self.walls.difference(shapely.union_all(leaning).buffer(1e-6))
        pairs = zip(leaning, self.stands_in, strict=True)
        return shapely.union_all([around(upright, by), *(g.buffer(max(by + more, 0.0), DISC) for g, more in pairs)])

    @property
    def empty(self) -> bool:
        """Whether there is nothing to clear."""
        return self.area.is_empty


def region_of(view: View, plane: Plane, frame: Array, solid: Callable[[Array], bool] = lambda _: False) -> Region:
    """Outline of a view with its arcs refined, and the closed part of its boundary.

    frame: (3, 3) rows are the part's own axes. Inner rings are islands: closed all round. solid: whether the part stands
    at places (k, 2) next to a piece of the boundary that no side of the view explains; there it is closed.
    """
    rings = [plane.flat(np.array(ring) @ frame.T) for ring in view.outline if len(ring) > 2]
    rings = [with_arcs(ring) for ring in rings]
    area: BaseGeometry = shapely.Polygon()
    for ring in sorted(rings, key=lambda r: -abs(_twice_area(r))):
        piece = shapely.Polygon(ring).buffer(0)
        area = area.symmetric_difference(piece) if area.intersects(piece) else area.union(piece)
    outer = shapely.union_all([shapely.Polygon(p.exterior) for p in _polygons(area)])
    islands = edge(area).difference(edge(outer).buffer(NEAR))
    if view.kind == "planar_face":
        return Region(area, islands)
    if not view.sides:
        closed = shapely.LineString() if view.open_sides and not view.closed_sides else edge(outer)
        return Region(area, shapely.union_all([islands, closed]))
    walls, opens = ([_side_line(x, rings, plane, frame) for x in view.sides if x.open is way] for way in (False, True))
    plain, walls = walls, [_snapped(line, edge(area)) for line in walls]
    area = _within(area, walls, [x for x in view.sides if not x.open], plane, frame)
    unsaid = edge(outer).difference(shapely.union_all([*walls, *opens]).buffer(NEAR))
    more = [line for line in _lines(unsaid) if line.length > SHORT and solid(_just_outside(line, area))]
    closed = zip([x for x in view.sides if not x.open], walls, strict=True)
    leans = tuple((line, math.radians(x.draft)) for x, line in closed if UPRIGHT < x.draft < STEEPEST)
    upright = [w for w, x in zip(plain, [x for x in view.sides if not x.open], strict=True) if x.draft <= UPRIGHT]
    leads = _leads(upright, [*plain, *more], area) if any(x.open for x in view.sides) else shapely.LineString()
    return Region(area, shapely.union_all([islands, *more, *walls]), leans, leads=leads)


def _leads(upright: list[BaseGeometry], walls: list[BaseGeometry], area: BaseGeometry) -> BaseGeometry:
    """Upright walls' ends at open sides, each led on straight as far as it does not come into the area again."""
    out = []
    every = shapely.union_all(walls)
    inner = area.buffer(-NEAR)
    for wall in upright:
        for line in _lines(wall):
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


def _snapped(line: BaseGeometry, rim: BaseGeometry) -> BaseGeometry:
    """A side's line, as the outline has it where it runs along it: a side may start and end on the chords of an arc."""
    if line.difference(rim.buffer(ON)).length < ON:
        return line
    own = rim.intersection(line.buffer(NEAR, cap_style="flat"))
    runs_along = line.difference(rim.buffer(NEAR)).length < SHORT
    return own if runs_along and own.length > 0.5 * line.length else line


def _within(
    area: BaseGeometry, walls: list[BaseGeometry], sides: list[Side], plane: Plane, frame: Array
) -> BaseGeometry:
    """The area without what lies behind walls that run through it, as where a bevel makes the mouth wider than the floor.

    Sides run round the outline one way, so that what is cut lies on the same hand of all of them.
    """
    across = [(w, s) for w, s in zip(walls, sides, strict=True) if w.difference(edge(area).buffer(NEAR)).length > SHORT]
    if not across or area.is_empty:
        return area
    pieces = _polygons(shapely.polygonize([shapely.union_all([edge(area), *walls], grid_size=GRID)]))
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
    return max(_lines(lines), key=lambda line: line.length)


def _just_outside(line: BaseGeometry, area: BaseGeometry) -> Array:
    """Places (k, 2) beside a piece of a region's boundary, out of the region."""
    near = [shapely.offset_curve(line, d) for d in (-OUT, OUT)]
    at = [shapely.line_interpolate_point(x, [0.15, 0.5, 0.85], normalized=True) for x in near if not x.is_empty]
    points = shapely.get_coordinates(np.concatenate(at)) if at else np.empty((0, 2))
    return points[~shapely.contains_xy(area, *points.T)]


def around(lines: BaseGeometry, by: float, quarter: int = DISC) -> BaseGeometry:
    """All within `by` mm of lines. Many short ones are grown one by one: together, each would be cut with each."""
    parts = shapely.get_parts(lines)
    if len(parts) < MANY:
        return lines.buffer(by, quarter)
    return shapely.union_all(shapely.buffer(parts, by, quad_segs=quarter))


def edge(area: BaseGeometry) -> BaseGeometry:
    """The boundary of a region, empty where it has none."""
    return shapely.union_all([shapely.boundary(p) for p in _polygons(area)])


def _lines(what: BaseGeometry) -> list[BaseGeometry]:
    return [g for g in shapely.get_parts(shapely.line_merge(what)) if g.geom_type == "LineString"]


def _side_line(side: Side, rings: list[Array], plane: Plane, frame: Array) -> BaseGeometry:
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


def with_arcs(ring: Array) -> Array:
    """A ring (k, 2) whose arcs, given as chords, are followed more finely.

    Four points or more in a row that turn the same way by at most ARC_TURN degrees a chord, in chords of about one
    length, and lie on one circle are an arc; its chords are cut so that each turns FINE at most.
    """
    k = len(ring)
    if k < 4:
        return ring
    centre, radius, turn = _circles(ring)
    before = np.linalg.norm(ring - np.roll(ring, 1, axis=0), axis=1)
    even = np.maximum(before, np.roll(before, -1)) < 2.0 * np.minimum(before, np.roll(before, -1))
    arc = even & (np.abs(turn) > 0.05) & (np.abs(turn) < ARC_TURN) & (radius < 1e6)
    after = np.roll(np.arange(k), -1)
    limit = ARC_FIT + 1e-3 * np.where(arc, radius, 0.0)
    same = arc & arc[after] & (np.linalg.norm(centre - centre[after], axis=1) < limit) & (turn * turn[after] > 0)
    chain = same | np.roll(same, 1)
    out: list[Array] = []
    for i in range(k):
        j = (i + 1) % k
        out.append(ring[i : i + 1])
        for own in (i, j):
            if chain[own] and abs(np.linalg.norm(ring[[i, j]] - centre[own], axis=1) - radius[own]).max() < limit[own]:
                out.append(_finer(ring[i], ring[j], centre[own], radius[own]))
                break
    return np.vstack(out)


def _circles(ring: Array) -> tuple[Array, Array, Array]:
    """Circle through each point and its two neighbours: centres (k, 2), radii, and the turn there in degrees."""
    a, b, c = np.roll(ring, 1, axis=0), ring, np.roll(ring, -1, axis=0)
    ab, bc = b - a, c - b
    cross = ab[:, 0] * bc[:, 1] - ab[:, 1] * bc[:, 0]
    turn = np.degrees(np.arctan2(cross, (ab * bc).sum(axis=1)))
    with np.errstate(divide="ignore", invalid="ignore"):
        ac, lengths = c - a, (ab**2).sum(axis=1)
        d = 2.0 * (ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0])
        far = (ac**2).sum(axis=1)
        off = np.column_stack([ac[:, 1] * lengths - ab[:, 1] * far, ab[:, 0] * far - ac[:, 0] * lengths]) / d[:, None]
    off = np.where(np.isfinite(off), off, 1e12)  # three points in a line: their circle is never anybody's
    return a + off, np.linalg.norm(off, axis=1), turn


def _finer(a: Array, b: Array, centre: Array, radius: float) -> Array:
    """Points between a and b on the circle."""
    first = math.atan2(*(a - centre)[::-1])
    sweep = (math.atan2(*(b - centre)[::-1]) - first + math.pi) % math.tau - math.pi
    if abs(sweep) > math.radians(2.0 * ARC_TURN):
        return np.empty((0, 2))
    at = first + sweep * np.arange(1, (n := math.ceil(abs(sweep) / FINE))) / n
    return centre + radius * np.column_stack([np.cos(at), np.sin(at)])


def centres(region: Region, radius: float, allowance: float = 0.0) -> BaseGeometry:
    """Where the centre of a cutter goes to clear a region as far as its walls let it.

    Over open sides it goes out no further than it must: the smallest overrun that clears as much as any overrun would.
    """
    key = (radius, allowance)
    if key not in region._centres:
        region._centres[key] = _centres(region, radius, allowance)
    return region._centres[key]


def _centres(region: Region, radius: float, allowance: float) -> BaseGeometry:
    walls = _walls(region, radius, radius + allowance - 1e-6)
    opens = edge(region.area).difference(region.walls.buffer(NEAR))
    inner = region.area.difference(walls)
    core = replace(region, area=region.area.difference(region.rim))

    def free(over: float) -> BaseGeometry:
        """Centres up to `over` mm outside the open sides (inside them where it is negative), off the walls."""
        if over == 0.0 or opens.is_empty:
            return inner
        if over > 0.0:
            return useful(region.area.union(opens.buffer(over, DISC // 4)).difference(walls))
        return inner.difference(opens.buffer(-over, DISC // 4))

    def useful(where: BaseGeometry) -> BaseGeometry:
        """Without what lies beyond the end of a wall: from there the cutter reaches nothing."""
        if region.leads.is_empty:
            return where
        return shapely.union_all([p for p in _polygons(where) if _cleared(core, p, radius) > SLACK])

    far = free(radius)
    if far.is_empty:
        return far
    goal = _cleared(region, far, radius)
    if goal <= SLACK:
        return shapely.Polygon()
    if opens.is_empty:
        return far

    def enough(over: float) -> bool:
        return _cleared(region, free(over), radius) >= goal - SLACK

    close = max(0.02 * radius, 0.05)
    low, high = -0.7 * radius, radius
    if not enough(0.0):
        low = 0.0
    elif not enough(-close):  # as where a wall meets an open side: the usual case
        return inner
    else:
        high = -close
    while high - low > close:
        middle = 0.5 * (low + high)
        if enough(middle):
            high = middle
        else:
            low = middle
    return free(high)


def _walls(region: Region, radius: float, by: float) -> BaseGeometry:
    """Where the centre does not go. Past the end of a wall the cutter runs straight on, and not round the end, wherever
    it clears as much that way.
    """
    walls = region.kept_off(by)
    if region.leads.is_empty:
        return walls
    straight = walls.union(around(region.leads, by))
    core = replace(region, area=region.area.difference(region.rim))
    far = region.area.buffer(radius, DISC // 4)
    same = _cleared(core, far.difference(straight), radius) >= _cleared(core, far.difference(walls), radius) - SLACK
    return straight if same else walls


SLACK = 1e-3
"""Mm2 of cleared area that is chords against arcs."""


def _cleared(region: Region, where: BaseGeometry, radius: float) -> float:
    return float(where.buffer(radius, DISC // 4).intersection(region.area).area)


def swept(where: BaseGeometry, radius: float) -> BaseGeometry:
    """What a disc of this radius covers from centres in a region or on a line."""
    return where.buffer(radius, DISC)


def _polygons(area: BaseGeometry) -> list[shapely.Polygon]:
    return [p for p in shapely.get_parts(area) if p.geom_type == "Polygon"]


def _twice_area(ring: Array) -> float:
    x, y = ring.T
    return float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())
