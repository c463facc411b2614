"""Whether a chamfer cutter gets at an edge: nothing stands or hangs where its cone and its body pass.

The cutter is that of an edge break: 90 degrees, 10 mm, its tip beside the edge. Material over or beside the edge always
has a face that does not stand upright above it, so it is enough to look for such faces inside the cone. The last bit
of an edge before a wall, one cutter radius long, is left out: there every edge break stops.
"""

from __future__ import annotations

from bisect import bisect_left
from functools import lru_cache

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from recognizer import convex
from recognizer.convex import Line, Ring
from recognizer.outline import Plane2, Point, face_polygon, gap2
from recognizer.rule import Context
from recognizer.tilts import tilts
from recognizer.vector import dot
from shared.units import Vector

RADIUS = 5.0
"""Mm: body of the pointed chamfer cutter that breaks edges (shared/tables/cutters.csv)."""
TOUCH = 0.5
"""Mm off its axis at which the cutter usually touches an edge."""
CONE = (0.5, 1.5, 3.0)
"""Mm past the edge at which the cutter's cone is looked at, and where its body begins: it widens by 1 mm a mm of height."""
CLEAR = 0.1
"""Mm of height left as clearance."""


@lru_cache(maxsize=256)
def _cone(touch: float) -> list[tuple[float, float]]:
    """(mm that the cutter reaches past the edge, mm over it at which it does) of a cutter that touches so far off its axis."""
    body = RADIUS - touch
    return [(past, past + CLEAR) for past in (*(p for p in CONE if p < body), body)]


UPRIGHT = 1e-3
"""Cosine below which a face stands upright."""
SMALL = 0.02
"""Mm2 of overlap that is chords and tolerances."""
FEW = 60
"""Faces up to which boxes are quicker compared one by one than as arrays."""
UNSURE = 1e-6
"""Mm and mm2 by which plain numbers leave a decision to shapely."""


class Obstacles:
    """Faces of the part that do not stand upright along a direction, as seen along it, the highest first."""

    def __init__(self, ctx: Context, d: Vector) -> None:
        self.ctx, self.d, self.plane = ctx, d, Plane2(d)
        cosines = np.abs(np.array(tilts(ctx, d))).max(axis=0)
        _, high = ctx.snapshot.levels(d)
        top = np.array(high)
        leaning = np.flatnonzero(cosines > UPRIGHT)
        leaning = leaning[np.argsort(-top[leaning], kind="stable")]
        self.faces: list[int] = leaning.tolist()
        self.falling: list[float] = (-top[leaning]).tolist()
        across = [np.array(side)[leaning] for w in (self.plane.u, self.plane.v) for side in ctx.snapshot.levels(w)]
        self.bounds = np.stack(across, axis=1)
        self.boxes: list[list[float]] = self.bounds.tolist()
        self.polygons: dict[int, BaseGeometry] = {}
        self.rings: dict[int, list[Ring] | None] = {}
        self.convex: dict[int, Ring | None] = {}
        self.facets: dict[int, tuple[np.ndarray, np.ndarray, np.ndarray]] = {}

    def clears(self, level: float, touch: float = TOUCH) -> bool:
        """Whether nothing at all stands as high as the cutter does over an edge at a level."""
        return not self.falling or -self.falling[0] <= level + _cone(touch)[0][1]

    def hit(self, line: LineString, level: float, touch: float = TOUCH) -> bool:
        """Whether something stands in the cutter's way along an edge (seen along the direction) at a level."""
        cone, (x0, y0, x1, y1) = _cone(touch), line.bounds
        near = self._near((x0 - RADIUS, y0 - RADIUS, x1 + RADIUS, y1 + RADIUS), level + cone[0][1])
        return len(near) > 0 and any(
            self._hit(line.buffer(radius, cap_style="flat"), level + above) for radius, above in cone
        )

    def hit_straight(self, a: Point, b: Point, level: float, touch: float = TOUCH) -> bool:
        """The same along a straight line from a to b, whose strips are rectangles."""
        cone, size = _cone(touch), gap2(a, b)
        x, y = (b[0] - a[0]) / size, (b[1] - a[1]) / size
        widest = _rectangle(a, b, (-y * RADIUS, x * RADIUS))
        near = self._near(convex.bounds(widest), level + cone[0][1])
        return len(near) > 0 and any(
            self._hit_rectangle(near, _rectangle(a, b, (-y * r, x * r)), level + above) for r, above in cone
        )

    def _hit_rectangle(self, near: list[int], strip: Ring, level: float) -> bool:
        """Whether one of some faces, given by their places, rises above a level in a strip."""
        x0, y0, x1, y1 = convex.bounds(strip)
        sides: list[Line] = []
        for k in near:
            left, right, front, back = self.boxes[k]
            if -self.falling[k] > level and left < x1 and right > x0 and front < y1 and back > y0:
                sides = sides or _sides(strip)
                if self._stands_in(self.faces[k], strip, sides, level):
                    return True
        return False

    def _stands_in(self, face: int, strip: Ring, sides: list[Line], level: float) -> bool:
        if self._below(face, strip, level):
            return False
        rings = self._level_rings(face)
        if rings is not None:
            outer, *inner = (_area(_inside(ring, sides)) for ring in rings)
            return outer - sum(inner) > SMALL
        ring = self._convex_ring(face)
        if ring is None:
            found = self._plain_to_see(face, strip, sides, level)
            return self._stands(face, Polygon(strip), level) if found is None else found
        piece = _inside(ring, sides)
        return _area(piece) > SMALL and any(self._height(face, q) > level for q in piece)

    def _plain_to_see(self, face: int, strip: Ring, sides: list[Line], level: float) -> bool | None:
        """Whether a leaning plane face of any outline stands in a strip above a level; None where plain numbers do not tell.

        Where a ring of any shape is cut, it is joined along the strip's sides: corners of the strip may then be no part of
        the face, all other corners are.
        """
        rings = self._rings(face) if self.ctx.faces[face].kind == "plane" else None
        if rings is None:
            return None
        pieces = [_inside(ring, sides) for ring in rings]
        area = _area(pieces[0]) - sum(map(_area, pieces[1:]))
        if area < SMALL - UNSURE:
            return False
        high = [q for q in pieces[0] if self._height(face, q) > level - UNSURE]
        if not high:
            return False
        sure = area > SMALL + UNSURE and any(
            self._height(face, q) > level + UNSURE and all(gap2(q, corner) > UNSURE for corner in strip) for q in high
        )
        return True if sure else None

    def _below(self, face: int, strip: Ring, level: float) -> bool:
        """A plane that lies below a level at all corners of a strip."""
        s = self.ctx.faces[face].surface
        if s.kind != "plane" or abs(lean := dot(self.d, s.axis)) > 1 - 1e-9:
            return False
        return all((s.offset - dot(self.plane.back(q, 0.0), s.axis)) / lean < level - UNSURE for q in strip)

    def _convex_ring(self, face: int) -> Ring | None:
        """Outline of a plane face that is convex and without holes, clockwise; None of others."""
        if face not in self.convex:
            f, ring = self.ctx.faces[face], []
            if f.kind == "plane" and len(f.loops) == 1:
                ring = convex.tidy([self.plane.at(p) for p in self.ctx.snapshot.loop_points(face, 0)])
                ring = ring if convex.area(ring) > 0 else ring[::-1]
            self.convex[face] = ring if convex.is_convex(ring) else None
        return self.convex[face]

    def _height(self, face: int, q: Point) -> float:
        """Level of a plane face at a place across the direction."""
        s = self.ctx.faces[face].surface
        return (s.offset - dot(self.plane.back(q, 0.0), s.axis)) / dot(self.d, s.axis)

    def _level_rings(self, face: int) -> list[Ring] | None:
        """Loops of a plane face that lies square to the direction, the outer one first; None of others."""
        s = self.ctx.faces[face].surface
        return self._rings(face) if s.kind == "plane" and abs(dot(s.axis, self.d)) > 1 - 1e-9 else None

    def _rings(self, face: int) -> list[Ring] | None:
        """Loops of a plane face seen along the direction, the outer one first; None where they are no one polygon."""
        if face not in self.rings:
            polygon = self._polygon(face)
            whole = polygon.geom_type == "Polygon" and not polygon.is_empty
            self.rings[face] = (
                [list(r.coords)[:-1] for r in (polygon.exterior, *polygon.interiors)]  # type: ignore[attr-defined]
                if whole
                else None
            )
        return self.rings[face]

    def _hit(self, strip: BaseGeometry, level: float) -> bool:
        return not strip.is_empty and any(
            self._stands(self.faces[k], strip, level) for k in self._near(strip.bounds, level)
        )

    def _near(self, box: tuple[float, ...], level: float) -> list[int]:
        """Places in `faces` of those that rise above a level over a box."""
        high = bisect_left(self.falling, -level)
        if not high:
            return []
        x0, y0, x1, y1 = box
        if high < FEW:
            near = enumerate(self.boxes[:high])
            return [
                k for k, (left, right, front, back) in near if left < x1 and right > x0 and front < y1 and back > y0
            ]
        b = self.bounds[:high]
        return np.flatnonzero((b[:, 0] < x1) & (b[:, 1] > x0) & (b[:, 2] < y1) & (b[:, 3] > y0)).tolist()

    def _stands(self, face: int, strip: BaseGeometry, level: float) -> bool:
        s = self.ctx.faces[face].surface
        if s.kind != "plane":
            return self._curved(face, level, strip)
        piece = self._polygon(face).intersection(strip)
        if piece.area <= SMALL:
            return False
        return any(self._height(face, (q[0], q[1])) > level for q in shapely.get_coordinates(piece))

    def _polygon(self, face: int) -> BaseGeometry:
        """Projection of a plane face."""
        if face not in self.polygons:
            self.polygons[face] = face_polygon(self.ctx, face, self.plane)
        return self.polygons[face]

    def _curved(self, face: int, level: float, strip: BaseGeometry) -> bool:
        """Whether the facets of a curved face that reach above a level cover more than a little of a strip."""
        corners, boxes, high = self._facets(face)
        x0, y0, x1, y1 = strip.bounds
        near = (high > level) & (boxes[:, 0] < x1) & (boxes[:, 2] > x0) & (boxes[:, 1] < y1) & (boxes[:, 3] > y0)
        if not near.any():
            return False
        facets = shapely.polygons(corners[near])
        each = shapely.area(shapely.intersection(facets, strip))
        if each.max() > SMALL or each.sum() <= SMALL:
            return bool(each.max() > SMALL)
        return bool(shapely.unary_union(facets).intersection(strip).area > SMALL)

    def _facets(self, face: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """(n, 3, 2) corners of a face's facets across the direction, their (n, 4) boxes and (n,) highest levels."""
        if face not in self.facets:
            triangles = self.ctx.snapshot.facet_arrays.get(face, np.empty((0, 3, 3)))
            corners = triangles @ np.array([self.plane.u, self.plane.v]).T
            a, b = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
            real = np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) > 2e-9
            corners, high = corners[real], (triangles[real] @ np.array(self.d)).max(axis=1, initial=-np.inf)
            boxes = np.concatenate([corners.min(axis=1), corners.max(axis=1)], axis=1)
            self.facets[face] = corners, boxes, high
        return self.facets[face]


def _rectangle(a: Point, b: Point, n: Point) -> Ring:
    """Corners of the strip between a - n, b - n and a + n, b + n, clockwise where n points to the left of a to b."""
    return [(q[0] + s * n[0], q[1] + s * n[1]) for q, s in ((a, 1), (b, 1), (b, -1), (a, -1))]


def _sides(strip: Ring) -> list[Line]:
    """Sides of a clockwise convex ring."""
    out = []
    for a, b in zip(strip, strip[1:] + strip[:1], strict=True):
        size = gap2(a, b)
        n = ((b[1] - a[1]) / size, (a[0] - b[0]) / size)
        out.append((*n, n[0] * a[0] + n[1] * a[1]))
    return out


def _inside(ring: Ring, sides: list[Line]) -> Ring:
    """Part of a simple ring inside a convex one (Sutherland and Hodgman 1974)."""
    for nx, ny, c in sides:
        ring = convex.cut(ring, (nx, ny), c)
    return ring


def _area(ring: Ring) -> float:
    return abs(convex.area(ring)) if ring else 0.0


def chamfer_passes(ctx: Context, points: tuple[Vector, ...], d: Vector, touch: float = TOUCH) -> bool:
    """Whether a chamfer cutter coming along d passes along an edge, given as a polyline, but for its ends at walls.

    `touch`: mm off its axis at which it touches the edge; the further out, the less its body stands past the edge.
    """
    if d not in ctx.obstacles:
        ctx.obstacles[d] = Obstacles(ctx, d)
    obstacles: Obstacles = ctx.obstacles[d]
    flat, level = [obstacles.plane.at(p) for p in points], max(dot(p, d) for p in points)
    if len(flat) == 2:
        a, b = flat
        size = gap2(a, b)
        if size < 1e-6 or obstacles.clears(level, touch):
            return size >= 1e-6
        t = min(RADIUS, 0.45 * size) / size
        start, end = ((a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1])) for s in (t, 1 - t))
        return not obstacles.hit_straight(start, end, level, touch)
    line = LineString(flat)
    if line.length < 1e-6:
        return False
    closed = points[0] == points[-1]
    ends = 0.0 if closed else min(RADIUS, 0.45 * line.length)
    middle = substring(line, ends, line.length - ends) if ends else line
    return not obstacles.hit(middle, level, touch)
