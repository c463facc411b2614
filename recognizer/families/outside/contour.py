"""The outline of a part seen along an axis, wall by wall: for round parts whose outline turns inwards too.

True cases: a hub with arms; a clamp ring with two ears and a slit. What dents the outline stays a feature of its own
where it looks like one: a notch with walls square to the box, or a slit, far deeper than its mouth is wide.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, degrees, radians

from shapely import unary_union
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.strtree import STRtree

from recognizer.outline import Plane2, Point, face_polygon, gap2
from recognizer.rule import Context
from recognizer.tilts import FLAT, tilt
from recognizer.vector import dot
from recognizer.wall_lines import wall_line
from shared.units import Vector

SHARP_DEG = 20.0
BORED_DEG = 184.0
"""A hollow arc with sharp ends that turns farther was bored: no cutter left it from beside."""
NARROW = 1 / 3
"""A dent whose mouth is narrower than this share of its walls' length is a slot."""
SAG = 0.004
"""Of a radius lies a chord of ten degrees inside its arc."""
FOUND_SHARE = 0.98
"""Of the outline must lie on upright walls: what leans or is rounded there is no contour for a cutter's side."""
SEAM_MM = 1e-4
"""Half the width of cracks between faces' projections."""
OUT_SHARE = 0.01
"""Of its mouth may a dent reach out beyond its corners."""
LEAST_SHARE = 0.5
"""Of the outline is left when the dents are taken out and their mouths shut."""


@dataclass
class Stretch:
    """A part of the outline on walls of one surface."""

    faces: frozenset[int]
    surfaces: frozenset[int]
    points: list[Point]

    @property
    def length(self) -> float:
        """Length, mm."""
        return sum(gap2(a, b) for a, b in zip(self.points, self.points[1:], strict=False))


def contour(ctx: Context, d: Vector, walls: set[int]) -> frozenset[int] | None:
    """The upright `walls` on the part's outline along d, without those of dents; None where it is no contour."""
    ring = _silhouette(ctx, d)
    stretches = _stretches(ctx, ring, walls, Plane2(d))
    whole = LineString(ring).length
    if not stretches or sum(s.length for s in stretches) < FOUND_SHARE * whole:
        return None
    found = _dents(ctx, stretches)
    mouths = sum(gap2(stretches[dent[0]].points[0], stretches[dent[-1]].points[-1]) for dent in found)
    dents = [k for dent in found for k in dent]
    kept = [s for k, s in enumerate(stretches) if k not in dents]
    left = sum(s.length for s in kept)
    if left < LEAST_SHARE * (left + mouths):
        return None
    return frozenset(f for s in kept for f in s.faces if ctx.graph.group[f] in s.surfaces)


def _silhouette(ctx: Context, d: Vector) -> list[Point]:
    """The outer ring, anticlockwise, of all that looks along d."""
    plane = Plane2(d)
    seen = [face_polygon(ctx, f.index, plane) for f in ctx.faces if tilt(ctx, f.index, d)[1] > 10 * FLAT]
    shape = unary_union(seen).buffer(SEAM_MM, join_style="mitre").buffer(-SEAM_MM, join_style="mitre")
    shape = max(getattr(shape, "geoms", [shape]), key=lambda g: g.area)
    ring = list(Polygon(shape.exterior).normalize().exterior.coords)[::-1]
    kept = [q for p, q in zip(ring, ring[1:], strict=False) if gap2(p, q) > 20 * SEAM_MM]
    return [kept[-1], *kept]


def _stretches(ctx: Context, ring: list[Point], walls: set[int], plane: Plane2) -> list[Stretch]:
    order = sorted(walls)
    lines = {f: MultiLineString(wall_line(ctx, f, plane)) for f in order}
    tree, radius = STRtree([lines[f] for f in order]), max((ctx.faces[f].surface.radius for f in order), default=0.0)
    found: list[Stretch] = []
    for a, b in zip(ring, ring[1:], strict=False):
        middle = LineString([a, b]).interpolate(0.5, normalized=True)
        slack = 6 * ctx.tol.length_mm + 0.025 * gap2(a, b)
        near = (order[i] for i in tree.query(middle, "dwithin", slack + SAG * radius))
        faces = frozenset(f for f in near if lines[f].distance(middle) < slack + SAG * ctx.faces[f].surface.radius)
        step = Stretch(faces, frozenset(ctx.graph.group[f] for f in faces), [a, b])
        if found and step.surfaces & found[-1].surfaces and found[-1].points[-1] == a:
            found[-1] = _run_on(found[-1], step)
        elif faces:
            found.append(step)
    if len(found) > 1 and found[-1].surfaces & found[0].surfaces:
        found[0] = _run_on(found.pop(), found[0])
    return found


def _run_on(a: Stretch, b: Stretch) -> Stretch:
    """One stretch of two, on the surfaces that both lie on: near a corner a short step lies on both walls."""
    return Stretch(a.faces | b.faces, a.surfaces & b.surfaces, [*a.points, *b.points[1:]])


def _dents(ctx: Context, stretches: list[Stretch]) -> list[list[int]]:
    """Stretches, by number, between two outer corners that lie inside the line from one corner to the other.

    Of those that overlap the one with the narrowest mouth counts, of equal ones the deepest.
    """
    n = len(stretches)
    turns = [_turn(stretches[k - 1], stretches[k]) for k in range(n)]  # at the start of each stretch
    corners = [k for k in range(n) if turns[k] > SHARP_DEG]
    found = []
    for i, k in enumerate(corners):
        for m in range(1, len(corners)):
            end = corners[(i + m) % len(corners)]
            numbers = [j % n for j in range(k, end if end > k else end + n)]
            chain = [stretches[j] for j in numbers]
            if _is_cut(ctx, chain, notched=m == 1 and any(turns[j] < -SHARP_DEG for j in numbers[1:])):
                mouth = gap2(chain[0].points[0], chain[-1].points[-1])
                found.append((round(mouth, 3), -len(numbers), numbers))
    apart: list[list[int]] = []
    for _, _, numbers in sorted(found):
        if not any(set(numbers) & set(other) for other in apart):
            apart.append(numbers)
    return apart


def _is_cut(ctx: Context, chain: list[Stretch], notched: bool) -> bool:
    """Whether a dent is a cut of its own: far deeper than its mouth is wide, notched with walls square to the box, or bored."""
    points = [q for s in chain for q in s.points]
    if not _within(points):
        return False
    narrow = len(chain) > 2 and gap2(points[0], points[-1]) < NARROW * sum(s.length for s in chain)
    plain = notched and all(_square(ctx, f) for s in chain for f in s.faces)
    bored = len(chain) == 1 and any(_bored(ctx, f, chain[0].length) for f in chain[0].faces)
    return (narrow or plain or bored) and len(points) > 3 and not Polygon(points).exterior.is_ccw


def _bored(ctx: Context, face: int, length: float) -> bool:
    """Whether a stretch of the outline runs round more than half of a hollow cylinder."""
    s = ctx.faces[face].surface
    return s.kind == "cylinder" and s.hollow and length > 0.99 * s.radius * radians(BORED_DEG)


def _within(points: list[Point]) -> bool:
    """Whether an anticlockwise stretch of the outline stays on the material's side of the line between its ends."""
    (ax, ay), (bx, by) = points[0], points[-1]
    size = gap2(points[0], points[-1]) or 1.0
    return all((bx - ax) * (y - ay) - (by - ay) * (x - ax) > -OUT_SHARE * size * size for x, y in points)


def _square(ctx: Context, face: int) -> bool:
    s = ctx.faces[face].surface
    return s.kind == "plane" and any(abs(dot(s.axis, a)) > 1 - 1e-6 for a in ctx.frame.axes)


def _turn(a: Stretch, b: Stretch) -> float:
    """Degrees by which the outline turns from one stretch to the next: + an outer corner."""
    (p, q), (r, s) = a.points[-2:], b.points[:2]
    first, second = atan2(q[1] - p[1], q[0] - p[0]), atan2(s[1] - r[1], s[0] - r[0])
    return (degrees(second - first) + 180) % 360 - 180
