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

from planner.proof.plane import Plane
from planner.proof.rays import Array
from planner.proof.sides import NEAR, OUT, SHORT, edge, leads_of, lines_in, polygons_in, side_line, snapped, within
from planner.proof.sweeps import DISC
from shared.features import View

UPRIGHT, STEEPEST = 0.1, 80.0
"""Degrees of draft between which a wall leans."""
MANY = 24
"""Lines from which on they are grown one by one."""
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
        return shapely.union_all([around(upright, by), *(_off_leaning(g, more, by) for g, more in pairs)])

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
    outer = shapely.union_all([shapely.Polygon(p.exterior) for p in polygons_in(area)])
    islands = edge(area).difference(edge(outer).buffer(NEAR))
    if view.kind == "planar_face":
        return Region(area, islands)
    if not view.sides:
        closed = shapely.LineString() if view.open_sides and not view.closed_sides else edge(outer)
        return Region(area, shapely.union_all([islands, closed]))
    walls, opens = ([side_line(x, rings, plane, frame) for x in view.sides if x.open is way] for way in (False, True))
    plain, walls = walls, [snapped(line, edge(area)) for line in walls]
    area = within(area, walls, [x for x in view.sides if not x.open], plane, frame)
    unsaid = edge(outer).difference(shapely.union_all([*walls, *opens]).buffer(NEAR))
    more = [line for line in lines_in(unsaid) if line.length > SHORT and solid(_just_outside(line, area))]
    closed = zip([x for x in view.sides if not x.open], walls, strict=True)
    leans = tuple((line, math.radians(x.draft)) for x, line in closed if UPRIGHT < x.draft < STEEPEST)
    upright = [w for w, x in zip(plain, [x for x in view.sides if not x.open], strict=True) if x.draft <= UPRIGHT]
    leads = leads_of(upright, [*plain, *more], area) if any(x.open for x in view.sides) else shapely.LineString()
    return Region(area, shapely.union_all([islands, *more, *walls]), leans, leads=leads)


def _off_leaning(line: BaseGeometry, more: float, by: float) -> BaseGeometry:
    """What lies nearer than `by` to a leaning wall that stands `more` further out than its line; an island keeps its corners."""
    if line.is_ring and more > 0.0 and by > 0.0:
        return shapely.Polygon(line).buffer(more, join_style="mitre").buffer(by, DISC)
    return line.buffer(max(by + more, 0.0), DISC)


def _just_outside(line: BaseGeometry, area: BaseGeometry) -> Array:
    """Places (k, 2) beside a piece of a region's boundary, out of the region."""
    near = [shapely.offset_curve(line, d) for d in (-OUT, OUT)]
    at = [shapely.line_interpolate_point(x, [0.15, 0.5, 0.85], normalized=True) for x in near if not x.is_empty]
    points = shapely.get_coordinates(np.concatenate(at)) if at else np.empty((0, 2))
    return points[~shapely.contains_xy(area, *points.T)]


def around(lines: BaseGeometry, by: float, quarter: int = DISC) -> BaseGeometry:
    """All within `by` mm of lines."""
    pieces = pieces_around(lines, by, quarter)
    return pieces[0] if len(pieces) == 1 else shapely.union_all(pieces)


def pieces_around(lines: BaseGeometry, by: float, quarter: int = DISC) -> Array:
    """All within `by` mm of lines, as regions that may overlap, with their outer rings all turning one way.

    Many short lines are joined to chains first, and these grown one by one: together, each would be cut with each.
    """
    parts = shapely.get_parts(lines)
    if len(parts) < MANY:
        return np.array([lines.buffer(by, quarter)], dtype=object)
    if (shapely.get_dimensions(parts) == 1).all():
        parts = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(parts)))
    return np.asarray(shapely.buffer(parts, by, quad_segs=quarter))


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
        return shapely.union_all([p for p in polygons_in(where) if _cleared(core, p, radius) > SLACK])

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


def _twice_area(ring: Array) -> float:
    x, y = ring.T
    return float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())
