"""Upright walls as lines across their direction: a plane is one stretch, a cylinder one arc, whatever its edges do.

The edge of a cross hole in a round wall lies on the wall's arc too, with points of its own: drawn with the rim's chords it
would cross them again and again.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import atan2, ceil, cos, radians, sin, tau

from shapely import unary_union
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry
from shapely.ops import linemerge, polygonize

from recognizer.arcs import CHORD_DEG
from recognizer.outline import Plane2, Point, gap2
from recognizer.rule import Context
from recognizer.vector import dot

DIGITS = 4
SLIVERS = 0.01
"""Of what walls surround is less than this shut in by them: no ring of theirs is whole."""
SPECK = 3e-4
"""So small a share of the largest ring is where chords cross."""
FULL_DEG = 355.0


def wall_line(ctx: Context, face: int, plane: Plane2) -> list[list[Point]]:
    """Polylines of an upright wall: one, but for walls of free form, which have those of their edges."""
    f = ctx.faces[face]
    edges = [ctx.snapshot.edges[e] for e in ctx.snapshot.face_edges[face]]
    if f.kind == "plane":
        nx, ny = plane.at(f.surface.axis)
        points = sorted((q[1] * nx - q[0] * ny, q) for q in (plane.at(p) for e in edges for p in e.points))
        return [[points[0][1], points[-1][1]]]
    if f.kind != "cylinder" or abs(dot(f.surface.axis, plane.d)) < 1 - 1e-6:
        return [[plane.at(p) for p in e.points] for e in edges]
    centre, r = plane.at(f.surface.origin), f.surface.radius
    start, sweep = (
        (0.0, tau)
        if f.span > FULL_DEG
        else _sector([plane.at(p) for e in edges for p in e.points], centre, tau - radians(f.span))
    )
    steps = max(2, ceil(sweep / radians(CHORD_DEG) - 1e-9))
    angles = (start + sweep * k / steps for k in range(steps + 1))
    return [[(centre[0] + r * cos(a), centre[1] + r * sin(a)) for a in angles]]


def _sector(points: list[Point], centre: Point, empty: float) -> tuple[float, float]:
    """(first angle, sweep) of the arc on which points lie, radians: all but the gap between them that is the `empty` sector.

    Where a slit is narrower than a chord, the widest gap is none.
    """
    angles = sorted(atan2(y - centre[1], x - centre[0]) for x, y in points)
    gaps = [b - a for a, b in zip(angles, [*angles[1:], angles[0] + tau], strict=True)]
    gap = min(range(len(gaps)), key=lambda k: abs(gaps[k] - empty))
    return angles[(gap + 1) % len(angles)], tau - gaps[gap]


def enclosed(ctx: Context, walls: Iterable[int], plane: Plane2) -> BaseGeometry | None:
    """Region that a ring of upright walls shuts in. None where nothing is shut.

    Where no ring is whole, gaps such as the mouth of a slit are bridged; so are the two ends of one open chain of walls.
    """
    lines = [LineString(_rounded(line)) for f in walls for line in wall_line(ctx, f, plane) if _real(line)]
    if not lines:
        return None
    drawn = unary_union(lines)
    found = list(polygonize(drawn))
    if sum(p.area for p in found) < SLIVERS * drawn.convex_hull.area:  # chords of two pieces of one wall cross
        merged = linemerge(drawn) if hasattr(drawn, "geoms") else drawn
        chains = [(g.coords[0], g.coords[-1]) for g in getattr(merged, "geoms", [merged])]
        found = list(polygonize(unary_union([drawn, *_bridges(chains)])))
    least = SPECK * max((p.area for p in found), default=0.0)
    return unary_union([p for p in found if p.area > least]) if found else None


def _bridges(chains: list[tuple[Point, Point]]) -> list[LineString]:
    """Lines between the loose ends of different chains, the nearest two first; of a lone chain between its two ends."""
    ends = [(q, k) for k, chain in enumerate(chains) for q in chain]
    met = [q for q, _ in ends]
    loose = [(q, k) for q, k in ends if met.count(q) == 1]
    out: list[LineString] = []
    used: set[int] = set()
    pairs = ((gap2(a[0], b[0]), i, j) for i, a in enumerate(loose) for j, b in enumerate(loose[:i]))
    for _, i, j in sorted(pairs):
        apart = loose[i][1] != loose[j][1] or len(loose) == 2
        if apart and i not in used and j not in used:
            used |= {i, j}
            out.append(LineString([loose[i][0], loose[j][0]]))
    return out


def _rounded(line: list[Point]) -> list[Point]:
    return [(round(x, DIGITS) + 0.0, round(y, DIGITS) + 0.0) for x, y in line]


def _real(line: list[Point]) -> bool:
    return sum(gap2(a, b) for a, b in zip(line, line[1:], strict=False)) > 1e-6
