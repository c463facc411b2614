"""Meridians: faces that turn about one axis, as the line that their section draws in level and radius."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import atan2, cos, hypot, pi, sin

from shapely import Polygon, box
from shapely.geometry.base import BaseGeometry

from recognizer.graph import coaxial
from recognizer.rule import Context
from recognizer.snapshot import Surface
from recognizer.vector import cross, dot, length, sub
from shared.units import Vector

Rim = tuple[float, float]
"""Level along the axis and radius, mm."""
SAME_MM = 0.02
STEP_RAD = pi / 144
TURNED = ("cylinder", "cone", "torus", "sphere")


@dataclass(frozen=True)
class Meridian:
    """A chain of faces about an axis from one rim to the other; `lines` holds each face's points, (level, radius)."""

    origin: Vector
    axis: Vector
    faces: tuple[int, ...]
    lines: tuple[tuple[Rim, ...], ...]

    @property
    def points(self) -> list[Rim]:
        """All points from the first rim to the last."""
        return [*self.lines[0], *(p for line in self.lines[1:] for p in line[1:])]

    def inside(self, rim: float) -> BaseGeometry:
        """Section of what lies between the chain and the radius `rim` farther out: a groove round the outside."""
        points, far = self.points, max(r for _, r in self.points) + 1.0
        shape = Polygon([(points[0][0], far), *points, (points[-1][0], far)]).buffer(0)
        return shape.intersection(box(shape.bounds[0] - 1, 0, shape.bounds[2] + 1, rim))

    def beyond(self, rim: float) -> BaseGeometry:
        """Section of what lies between the chain and the radius `rim` farther in: a groove in a bore, or all for 0."""
        points, far = self.points, max(r for _, r in self.points) + 1.0
        shape = Polygon([(points[0][0], 0.0), *points, (points[-1][0], 0.0)]).buffer(0)
        return shape.intersection(box(shape.bounds[0] - 1, rim, shape.bounds[2] + 1, far))

    def between(self) -> BaseGeometry:
        """Section of what the chain and the straight line from rim to rim shut in: a groove in a face."""
        return Polygon(self.points).buffer(0)


def meridian(ctx: Context, faces: Iterable[int]) -> Meridian | None:
    """The meridian of faces that all turn about one axis and join rim to rim in one open chain; else None.

    Faces of one surface that another cut parted count once, by the first of them.
    """
    first: dict[int, int] = {}
    for f in sorted(faces):
        first.setdefault(ctx.graph.group[f], f)
    kept = list(first.values())
    base = next((ctx.faces[f].surface for f in kept if ctx.faces[f].kind in TURNED[:3]), None)
    base = base or next((ctx.faces[f].surface for f in kept if ctx.faces[f].kind == "sphere"), None)
    if base is None:
        return None
    axis = base.axis if base.kind != "sphere" else _axis_of_rims(ctx, kept, base)
    about = Surface("cylinder", base.origin, axis) if axis else None
    if about is None or not all(_turns(ctx.faces[f].surface, about) for f in kept):
        return None
    ends = {f: _rims(ctx, [g for g in faces if ctx.graph.group[g] == ctx.graph.group[f]], about) for f in kept}
    if any(len(rims) != 2 for rims in ends.values()):
        return None
    return _chained(ctx, about, ends)


def _axis_of_rims(ctx: Context, faces: list[int], s: Surface) -> Vector | None:
    """Axis of a sphere's one rim circle."""
    edges = [ctx.snapshot.edges[e] for f in faces for e in ctx.snapshot.face_edges[f]]
    return next((e.axis for e in edges if e.curve == "circle" and not e.seam and e.axis), None)


def _turns(s: Surface, about: Surface) -> bool:
    if s.kind == "plane":
        return abs(dot(s.axis, about.axis)) > 1 - 1e-6
    if s.kind == "sphere":
        return length(cross(sub(s.origin, about.origin), about.axis)) < SAME_MM
    return s.kind in TURNED and coaxial(s, about)


def _rims(ctx: Context, faces: list[int], about: Surface) -> list[Rim]:
    """Levels and radii of the circles about the axis that bound faces of one surface; a pole or a tip lies on the axis."""
    found: list[Rim] = []
    s = ctx.faces[faces[0]].surface
    for e in sorted({e for f in faces for e in ctx.snapshot.face_edges[f]}):
        edge = ctx.snapshot.edges[e]
        if edge.seam or edge.degenerate:
            continue
        if edge.curve != "circle" or not edge.centre or not edge.axis:
            if s.kind == "sphere":
                return []  # no more than a piece of it is left: which way it turns nobody knows
            continue
        away = sub(edge.centre, about.origin)
        if length(cross(edge.axis, about.axis)) < 1e-4 and length(cross(away, about.axis)) < SAME_MM:
            rim = (dot(edge.centre, about.axis), edge.radius)
            if all(not _same(rim, r) for r in found):
                found.append(rim)
    if len(found) == 1 and s.kind == "plane" and _opens_in(ctx, faces, found[0][1]):
        # of another outline than a circle: as far out as a ring of its area
        found.append((found[0][0], (sum(ctx.faces[f].area for f in faces) / pi + found[0][1] ** 2) ** 0.5))
    elif len(found) == 1 and s.kind in ("sphere", "cone", "plane"):
        levels = [v for f in faces for v in ctx.extent(f, about.axis)]
        far = max(levels, key=lambda v: abs(v - found[0][0]))
        found.append((far, 0.0))
    return found


def _opens_in(ctx: Context, faces: list[int], radius: float) -> bool:
    """Whether a circle of this radius is an inner loop of some plane face."""
    edges = (ctx.snapshot.edges[e] for f in faces for loop in ctx.faces[f].loops[1:] for e, _ in loop)
    return any(e.curve == "circle" and abs(e.radius - radius) < SAME_MM for e in edges)


def _same(a: Rim, b: Rim) -> bool:
    return abs(a[0] - b[0]) < SAME_MM and abs(a[1] - b[1]) < SAME_MM


def _chained(ctx: Context, about: Surface, ends: dict[int, list[Rim]]) -> Meridian | None:
    """Faces in the order in which their rims meet, begun at the rim of the lowest level; None for a ring or a fork."""
    count = {f: [sum(_same(r, q) for rims in ends.values() for q in rims) for r in rims] for f, rims in ends.items()}
    loose = sorted((ends[f][k], f) for f, n in count.items() for k in (0, 1) if n[k] == 1)
    if len(loose) != 2:
        return None
    at, face = loose[0]
    faces, lines, left = [], [], dict(ends)
    while True:
        rims = left.pop(face)
        far = rims[1] if _same(rims[0], at) else rims[0]
        faces.append(face)
        lines.append(tuple(_line(ctx, face, about, at, far)))
        nearest = [f for f, other in left.items() if any(_same(far, r) for r in other)]
        if len(nearest) != 1:
            break
        at, face = far, nearest[0]
    return Meridian(about.origin, about.axis, tuple(faces), tuple(lines)) if not left else None


def _line(ctx: Context, face: int, about: Surface, start: Rim, end: Rim) -> list[Rim]:
    """A face's section from rim to rim: straight, or the arc on whose side its facets lie."""
    s = ctx.faces[face].surface
    if s.kind not in ("torus", "sphere"):
        return [start, end]
    c = (dot(s.origin, about.axis), s.major_radius if s.kind == "torus" else 0.0)
    first, last = (atan2(p[1] - c[1], p[0] - c[0]) for p in (start, end))
    rel = ctx.snapshot.corners(face) - about.origin
    t = rel @ about.axis
    r = ((rel * rel).sum(axis=1) - t * t).clip(0.0) ** 0.5
    t = t + dot(about.origin, about.axis) - c[0]
    sweep = (last - first) % (2 * pi)
    inside = sum((atan2(y - c[1], x) - first) % (2 * pi) < sweep for x, y in zip(t.tolist(), r.tolist(), strict=True))
    if 2 * inside < len(t):
        sweep -= 2 * pi
    low, high = sorted((first, first + sweep))
    n = max(2, round(abs(sweep) / STEP_RAD))
    turns = [
        k * pi / 2 for k in range(-8, 9) if low + 1e-6 < k * pi / 2 < high - 1e-6
    ]  # where it is widest, and its ends
    middle = sorted({*turns, *(low + (high - low) * k / n for k in range(1, n))}, reverse=sweep < 0)
    size = hypot(start[0] - c[0], start[1] - c[1])
    return [start, *((c[0] + size * cos(a), c[1] + size * sin(a)) for a in middle), end]
