"""Room for cutters in a region: the narrowest gap that they must pass, and the largest that fits anywhere."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import combinations
from math import ceil, cos, hypot, pi, sqrt

import shapely
from shapely import MultiPoint, Polygon, unary_union
from shapely.geometry.base import BaseGeometry

from recognizer import convex
from recognizer.bodies import Reading
from recognizer.convex import Ring
from recognizer.extents import unit2
from recognizer.outline import Outline, Plane2, Point, Run, gap2, swept
from recognizer.rule import Context
from recognizer.vector import dot

STRAYS = 0.006
"""Share of its radius by which a region that was shrunk and grown again in chords may reach beyond itself."""


def room_for_cutters(outline: Outline) -> BaseGeometry:
    """The region, widened past its open sides, where a cutter may swing out into the air."""
    reach = 2 * shapely.minimum_bounding_radius(outline.region)
    out = -1.0 if _area(q for r in outline.runs for q in r.points[:-1]) < 0 else 1.0
    pieces, last = [outline.region], None
    start = next((k for k, r in enumerate(outline.runs) if not r.open), 0)
    for run in outline.runs[start:] + outline.runs[:start]:
        if not run.open:
            last = None
            continue
        for a, b in zip(run.points, run.points[1:], strict=False):
            if hypot(b[0] - a[0], b[1] - a[1]) < 1e-6:
                continue
            t = unit2(a, b)
            n = (out * t[1] * reach, -out * t[0] * reach)
            ends = [(q[0] + n[0], q[1] + n[1]) for q in (a, b)]
            pieces.append(Polygon([a, b, ends[1], ends[0]]))
            if last is not None:  # no slit between two open sides
                pieces.append(MultiPoint([a, last, ends[0]]).convex_hull)
            last = ends[1]
    return _islands_only(unary_union([p for p in pieces if p.area > 0]).buffer(1e-4).buffer(-1e-4), outline.region)


def _islands_only(room: BaseGeometry, region: BaseGeometry) -> BaseGeometry:
    """Room without cracks between the region's chords and those of its open sides: holes that are no hole of the region."""
    holes = [Polygon(r) for g in getattr(region, "geoms", [region]) for r in getattr(g, "interiors", ())]

    def closed(g: Polygon) -> Polygon:
        cores = [(ring, Polygon(ring).representative_point()) for ring in g.interiors]
        return Polygon(g.exterior, [ring for ring, q in cores if any(h.contains(q) for h in holes)])

    return unary_union([closed(g) for g in getattr(room, "geoms", [room]) if g.geom_type == "Polygon"])


def _area(points: Iterable[Point]) -> float:
    """Signed area of a ring, positive where it runs anticlockwise."""
    ring = list(points)
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:] + ring[:1], strict=True)) / 2


Circle = tuple[Point, float]


def circles_of(ctx: Context, reading: Reading) -> list[Circle]:
    """(centre, radius) of the arcs round a body's floors and walls that lie square to the direction."""
    plane, found = Plane2(reading.d), {}
    for f in reading.floors + reading.walls:
        for k in ctx.snapshot.face_edges[f]:
            e = ctx.snapshot.edges[k]
            if e.curve == "circle" and e.centre and e.axis and abs(dot(e.axis, plane.d)) > 1 - 1e-6:
                c = plane.at(e.centre)
                found[round(c[0], 4), round(c[1], 4), round(e.radius, 4)] = (c, e.radius)
    return [found[k] for k in sorted(found)]


def _rounded(polygon: Polygon, circles: list[Circle]) -> Polygon:
    """Polygon with its arcs in chords fine enough for its width: between thin rings coarse ones would cut the gap."""
    coarse, sag = _coarse(circles, polygon.area, polygon.length)
    return rounded(polygon, coarse, sag)


def rounded(polygon: Polygon, circles: list[Circle], sag: float) -> Polygon:
    """Polygon with its chords on these circles broken into shorter ones, which lie at most `sag` mm off them."""
    if not circles:
        return polygon
    outer, *inner = (
        [q for a, b in zip(g.coords, g.coords[1:], strict=False) for q in _arc_points(a, b, circles, sag)]
        for g in (polygon.exterior, *polygon.interiors)
    )
    fine = Polygon(outer, inner)
    return fine if fine.is_valid else polygon


def _coarse(circles: list[Circle], area: float, length: float) -> tuple[list[Circle], float]:
    """Circles whose chords of ten degrees are too coarse for a region of this area and edge, and the sag allowed."""
    sag = 1.5e-3 * 2 * area / length  # area by half the length of its edge: a strip's own width
    return [(c, r) for c, r in circles if r * (1 - cos(pi / 36)) > sag], sag


def _arc_points(a: Point, b: Point, circles: list[Circle], sag: float) -> list[Point]:
    """a and points of its circle on towards b, without b."""
    for c, r in circles:
        turn = swept(c, a, b)
        if abs(gap2(a, c) - r) < 1e-3 and abs(gap2(b, c) - r) < 1e-3 and 1e-6 < turn < 0.27:
            steps = min(16, ceil(turn / (2 * sqrt(2 * sag / r))))
            mixed = [
                (a[0] + (b[0] - a[0]) * i / steps - c[0], a[1] + (b[1] - a[1]) * i / steps - c[1])
                for i in range(1, steps)
            ]
            return [a, *((c[0] + x * r / hypot(x, y), c[1] + y * r / hypot(x, y)) for x, y in mixed)]
    return [a]


def widest_cutter(outline: Outline, circles: list[Circle]) -> tuple[float | None, float | None]:
    """(narrowest gap, largest cutter): diameters of the largest disc that reaches all but the corners, and of the
    largest that fits anywhere; None where it cannot be found. Found by shrinking the region; a disc counts as reaching
    all while it passes between all islands, and what it leaves are its own corners.
    """
    if outline.is_empty or outline.area < 1e-9:
        return None, None
    ring = convex_room(outline, circles)
    if ring is not None:
        largest = 2 * convex.inscribed_radius(ring)
        return largest, largest
    room = room_for_cutters(outline)
    if room.geom_type != "Polygon":
        room = max(room.geoms, key=lambda g: g.area)
    room = _rounded(room, circles)
    largest = _largest_disc(room)
    convex_all_round = outline.ring or abs(outline.region.convex_hull.area - outline.area) < 1e-4 * outline.area
    if convex_all_round and not outline.opens:
        return largest, largest
    low, high = 0.0, largest / 2
    for _ in range(12):
        r = (low + high) / 2
        if _passes(room, r, outline.region):
            low = r
        else:
            high = r
    # A slit that narrow is a tip between two sides or a fault of the outline, and no way that a cutter must pass.
    return (2 * low if low > 0.01 * largest else None), largest


def _largest_disc(room: Polygon) -> float:
    """Diameter of the largest disc in a polygon: exact in a convex one, else within a thousandth of its width."""
    ring = list(room.exterior.normalize().coords)[:-1]
    if not room.interiors and convex.is_convex(ring):
        return 2 * convex.inscribed_radius(ring)
    x0, y0, x1, y1 = room.bounds
    return 2 * shapely.maximum_inscribed_circle(room, tolerance=1e-3 * min(x1 - x0, y1 - y0)).length


def convex_room(outline: Outline, circles: list[Circle]) -> Ring | None:
    """`room_for_cutters` with its arcs in fine chords, where both it and the region are convex; None where not.

    What another cut has taken of the region between its own sides is room too.
    """
    region = outline.ring
    if region is None:
        return None
    corners = [q for r in outline.runs for q in r.points]  # where two sides do not meet, both ends count
    if not outline.opens:
        room = region
    elif -_area(corners) < (1 - 1e-6) * outline.area:
        return None
    else:
        room = _widened(outline.runs, 2 * _bounding_radius(region))
    if not convex.is_convex(convex.tidy(room)):
        return None
    coarse, sag = _coarse(circles, convex.area(room), sum(gap2(a, b) for a, b in _sides(room)))
    return [q for a, b in _sides(room) for q in _arc_points(a, b, coarse, sag)] if coarse else room


def _widened(runs: list[Run], reach: float) -> Ring:
    """Corners of clockwise sides, each stretch of an open one set off outwards."""
    stretches = [(a, b, run.open) for run in runs for a, b in zip(run.points, run.points[1:], strict=False)]
    stretches = [s for s in stretches if gap2(s[0], s[1]) > 1e-6]
    out: Ring = []
    for k, (a, b, free) in enumerate(stretches):
        if not free or not stretches[k - 1][2]:
            out.append(a)
        if free:
            t = unit2(a, b)
            out += [(q[0] - t[1] * reach, q[1] + t[0] * reach) for q in (a, b)]
    return out


def _sides(ring: Ring) -> Iterator[tuple[Point, Point]]:
    return zip(ring, ring[1:] + ring[:1], strict=True)


def _bounding_radius(ring: Ring) -> float:
    """Radius of the smallest circle round a ring."""
    if len(ring) <= 12:
        a, b = max(combinations(ring, 2), key=lambda p: gap2(*p))
        centre, radius = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2), gap2(a, b) / 2
        if all(gap2(centre, q) < radius + 1e-9 for q in ring):
            return radius
    return shapely.minimum_bounding_radius(Polygon(ring))


def _passes(room: BaseGeometry, r: float, region: BaseGeometry) -> bool:
    """A disc of radius r passes everywhere: the shrunk room is one piece round as many islands, and grows back to all
    but small corners of the region; out in the air beyond its open sides nothing need be reached.
    """
    shrunk = room.buffer(-r, quad_segs=8)
    if shrunk.is_empty or shrunk.geom_type != "Polygon" or len(shrunk.interiors) < len(room.interiors):
        return False
    grown = shrunk.buffer(r * 1.0005, quad_segs=16)
    # A corner of 60 degrees or more keeps back less than 0.7 r2; a strip or a bay that is missed keeps back more.
    most = 0.75 * r * r
    if room.area - grown.area + STRAYS * r * grown.length < most:
        return True  # all pieces together are no larger
    left = room.difference(grown)
    return all(p.area < most or not p.intersects(region) for p in getattr(left, "geoms", [left]))
