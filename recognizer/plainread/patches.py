"""Curved faces that are a rectangle on their surface: between two rulings (or meridians) and two circles about the axis.

Such a face cannot cross itself, its area and its flux have closed forms, and its triangles a pattern. Coordinates on a
surface: u, radians about the axis; w, height along the axis of cylinders and cones, radians round the tube of a torus.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from math import atan2, ceil, cos, degrees, hypot, pi, radians, sin, tan, tau
from typing import TypeVar

import numpy as np

from recognizer.plainread.curves import TIP, Curve
from recognizer.plainread.records import Frame, NotPlain
from recognizer.snapshot import Surface
from recognizer.vector import cross, dot, scale, sub

OFF_MM = 1e-5
"""Edges lie no farther off their surface and its circles and rulings."""
PARALLEL = 1e-7
"""Sine of the angle between axes that count as one direction."""
FACET_RAD = 0.1
"""Longest step of a facet about the axis and round a tube."""

T = TypeVar("T")
Walk = list[tuple[int, Curve, bool]]
"""A loop: edge numbers, their curves, and whether the loop runs along them."""


@dataclass(frozen=True)
class Patch:
    """A rectangle on a cylinder, cone or torus: least and greatest u, least and greatest w. flux: integral of (p . n)
    over it, outwards; facets: (n, 3, 3) corners of triangles; nodes: (m, 3) their corners. Of a face of another outline
    (`trimmed.py`) the rectangle round it; trimmed: it is such a face; outer: which of its loops is the outer one.
    """

    box: tuple[float, float, float, float]
    span: float
    area: float
    flux: float
    facets: np.ndarray
    nodes: np.ndarray
    trimmed: bool = False
    outer: int = 0


@dataclass(frozen=True)
class _Step:
    """An edge in the surface's coordinates, in loop direction: where it begins, and how far it goes along u or w."""

    u: float
    w: float
    du: float
    dw: float
    edge: int


def outer_first(loops: list[T], outer: int) -> list[T]:
    """Loops of a face in the order of the rest of the house: the outer one, then the others as they come."""
    return [loops[outer], *loops[:outer], *loops[outer + 1 :]]


def patch_of(surface: Surface, frame: Frame, loop: Walk) -> Patch:
    """The patch inside a loop. Raises NotPlain where it is no plain rectangle that lies the right way round."""
    start = next((k for k, (_, curve, _) in enumerate(loop) if curve.name == "circle"), 0)
    loop = loop[start:] + loop[:start]
    steps = _closed_at_tip([_step(surface, frame, *item) for item in loop], loop)
    u0, u1, w0, w1 = _rectangle(steps, surface)
    if surface.kind == "cone":
        _check_tip(surface, w0, w1, any(curve.name == TIP for _, curve, _ in loop))
    area, flux = (_cylinder if surface.kind == "cylinder" else _cone if surface.kind == "cone" else _torus)(
        surface, frame, u0, u1, w0, w1
    )
    facets, nodes = _facets(surface, frame, u0, u1, w0, w1)
    return Patch((u0, u1, w0, w1), min(360.0, degrees(u1 - u0)), area, -flux if surface.hollow else flux, facets, nodes)


def _step(s: Surface, frame: Frame, edge: int, curve: Curve, forward: bool) -> _Step:
    if curve.free is not None:
        raise NotPlain("an edge is a free curve")
    start = curve.points[0] if forward else curve.points[-1]
    way = 1.0 if forward else -1.0
    rel = sub(start, frame[0])
    x, y, h = dot(rel, frame[2]), dot(rel, frame[3]), dot(rel, frame[1])
    u, r = atan2(y, x), hypot(x, y)
    w = atan2(h, r - s.major_radius) if s.kind == "torus" else h
    if curve.name == "circle":
        assert curve.frame is not None
        lean = dot(curve.frame[1], frame[1])
        if abs(abs(lean) - 1) < PARALLEL:
            _about_the_axis(s, frame, curve, w)
            return _Step(u, w, way * (1 if lean > 0 else -1) * curve.length / curve.radius, 0.0, edge)
        if s.kind == "torus":
            return _Step(u, w, 0.0, way * _round_the_tube(s, frame, curve, u) * curve.length / curve.radius, edge)
    elif s.kind == "cone" and curve.name == TIP:
        return _Step(u, w, 0.0, 0.0, edge)
    elif s.kind != "torus":
        end = sub(curve.points[-1] if forward else curve.points[0], frame[0])
        ends = [(x, y, h), (dot(end, frame[2]), dot(end, frame[3]), dot(end, frame[1]))]
        px, py, _ = max(ends, key=lambda p: hypot(p[0], p[1]))  # at a tip there is no angle
        u = atan2(py, px)
        off = (hypot(p[0] - radius_at(s, p[2]) * cos(u), p[1] - radius_at(s, p[2]) * sin(u)) for p in ends)
        if max(off) < OFF_MM:
            return _Step(u, w, 0.0, ends[1][2] - h, edge)
    raise NotPlain("an edge is neither ruling nor circle")


def _closed_at_tip(steps: list[_Step], loop: Walk) -> list[_Step]:
    """Steps of which the one at a cone's tip turns back what the others turn."""
    turned = sum(t.du for t in steps)
    return [replace(t, du=-turned) if item[1].name == TIP else t for t, item in zip(steps, loop, strict=True)]


def _check_tip(s: Surface, w0: float, w1: float, tipped: bool) -> None:
    """Raises NotPlain unless a cone reaches its tip exactly where its outline has an edge there, or stays clear of it."""
    least = min(radius_at(s, w0), radius_at(s, w1))
    if not (abs(least) < OFF_MM if tipped else least > 100 * OFF_MM):
        raise NotPlain("a cone reaches its tip")


def radius_at(s: Surface, height: float) -> float:
    """Radius of a cylinder or cone at a height along its axis."""
    return s.radius + height * tan(radians(s.half_angle)) if s.kind == "cone" else s.radius


def _about_the_axis(s: Surface, frame: Frame, curve: Curve, w: float) -> None:
    """Raises NotPlain unless a circle across the axis lies on the surface."""
    assert curve.frame is not None
    rel = sub(curve.frame[0], frame[0])
    h = dot(rel, frame[1])
    off = hypot(dot(rel, frame[2]), dot(rel, frame[3]))
    if s.kind == "torus":
        wrong = abs(s.major_radius + s.radius * cos(w) - curve.radius) + abs(s.radius * sin(w) - h)
    else:
        wrong = abs(radius_at(s, h) - curve.radius)
    lean = hypot(*cross(curve.frame[1], frame[1])) * curve.radius
    if off + wrong + lean > OFF_MM:
        raise NotPlain("a circle does not lie on its surface")


def _round_the_tube(s: Surface, frame: Frame, curve: Curve, u: float) -> float:
    """1 or -1 as a circle runs with or against w; raises NotPlain unless it is the torus' meridian at u."""
    assert curve.frame is not None
    x, y = frame[2], frame[3]
    out = tuple(cos(u) * x[k] + sin(u) * y[k] for k in range(3))
    off = sub(sub(curve.frame[0], frame[0]), scale(out, s.major_radius))  # type: ignore[arg-type]
    across = cross(out, frame[1])  # type: ignore[arg-type]
    lean = dot(curve.frame[1], across)
    if hypot(*off) + abs(curve.radius - s.radius) + s.radius * (1 - abs(lean)) > OFF_MM or abs(lean) < 1 - PARALLEL:
        raise NotPlain("a circle does not lie on its torus")
    return 1.0 if lean > 0 else -1.0


def _rectangle(steps: list[_Step], s: Surface) -> tuple[float, float, float, float]:
    """(least u, greatest u, least w, greatest w) of a loop that goes once round a rectangle, the right way."""
    corners = [(steps[0].u, steps[0].w)]
    for step in steps:
        corners.append((corners[-1][0] + step.du, corners[-1][1] + step.dw))
    us, ws = [c[0] for c in corners], [c[1] for c in corners]
    u0, u1, w0, w1 = min(us), max(us), min(ws), max(ws)
    eu, ew = OFF_MM / _size(s), OFF_MM / (s.radius if s.kind == "torus" else 1.0)
    twice = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(corners, corners[1:], strict=False))
    good = abs(us[-1] - us[0]) < eu and abs(ws[-1] - ws[0]) < ew and u1 - u0 < tau + eu
    good = good and (s.kind != "torus" or w1 - w0 < tau - 0.01)
    good = good and all(_at_end(c[0], u0, u1, eu) or _at_end(c[1], w0, w1, ew) for c in corners)
    good = good and all(_on_side(p, (u0, u1, w0, w1), (eu, ew)) for p in zip(corners, steps, strict=False))
    good = good and abs(sum(abs(t.du) for t in steps) - 2 * (u1 - u0)) < 4 * eu
    good = good and abs(sum(abs(t.dw) for t in steps) - 2 * (w1 - w0)) < 4 * ew
    good = good and (twice < 0) == s.hollow and u1 - u0 > 100 * eu and w1 - w0 > 100 * ew
    if not good or not _seam_is_one_edge(steps, u1 - u0 > tau - 100 * eu):
        raise NotPlain("a curved face is no plain rectangle")
    return u0, u1, w0, w1


def _size(s: Surface) -> float:
    return s.major_radius + s.radius if s.kind == "torus" else max(s.radius, 1e-3)


def _at_end(value: float, low: float, high: float, eps: float) -> bool:
    return abs(value - low) < eps or abs(value - high) < eps


def _on_side(
    place: tuple[tuple[float, float], _Step], box: tuple[float, float, float, float], eps: tuple[float, float]
) -> bool:
    """An edge runs along one of the rectangle's four sides."""
    (u, w), step = place
    return _at_end(w, box[2], box[3], eps[1]) if step.dw == 0 else _at_end(u, box[0], box[1], eps[0])


def _seam_is_one_edge(steps: list[_Step], closed: bool) -> bool:
    """Edges stand twice in the loop exactly where they are the seam of a full turn."""
    count = {t.edge: sum(o.edge == t.edge for o in steps) for t in steps}
    return all(count[t.edge] == (2 if closed and t.du == 0 else 1) for t in steps)


def _swing(frame: Frame, u0: float, u1: float) -> float:
    """Integral of o . e(u) over u, where o is the frame's origin and e points away from its axis."""
    o = frame[0]
    return dot(o, frame[2]) * (sin(u1) - sin(u0)) - dot(o, frame[3]) * (cos(u1) - cos(u0))


def _cylinder(s: Surface, frame: Frame, u0: float, u1: float, w0: float, w1: float) -> tuple[float, float]:
    r, turn, high = s.radius, u1 - u0, w1 - w0
    return r * turn * high, r * high * (_swing(frame, u0, u1) + r * turn)


def _cone(s: Surface, frame: Frame, u0: float, u1: float, w0: float, w1: float) -> tuple[float, float]:
    a, turn = radians(s.half_angle), u1 - u0
    along = ((s.radius * w1 + w1 * w1 * tan(a) / 2) - (s.radius * w0 + w0 * w0 * tan(a) / 2)) / cos(a)
    mean = _swing(frame, u0, u1) * cos(a) + turn * (s.radius * cos(a) - dot(frame[0], frame[1]) * sin(a))
    return turn * along, mean * along


def _torus(s: Surface, frame: Frame, u0: float, u1: float, w0: float, w1: float) -> tuple[float, float]:
    """Integrals over w of r (R + r cos w) and of that times (A cos w + B sin w + r), with A = o . e(u) + R, B = o . z."""
    r, big, turn = s.radius, s.major_radius, u1 - u0
    a, b = _swing(frame, u0, u1) + big * turn, dot(frame[0], frame[1])
    inmost = [w for w in (-3 * pi, -pi, pi, 3 * pi) if w0 < w < w1]
    if min(big + r * cos(w) for w in (w0, w1, *inmost)) < 100 * OFF_MM:
        raise NotPlain("a torus reaches its axis")

    def area(w: float) -> float:
        return turn * r * (big * w + r * sin(w))

    def flux(w: float) -> float:
        si, co = sin(w), cos(w)
        with_a = big * si + r * (w + si * co) / 2
        rest = -big * b * co + big * r * w + r * b * si * si / 2 + r * r * si
        return r * (a * with_a + turn * rest)

    return area(w1) - area(w0), flux(w1) - flux(w0)


def _facets(s: Surface, frame: Frame, u0: float, u1: float, w0: float, w1: float) -> tuple[np.ndarray, np.ndarray]:
    """(n, 3, 3) corners of triangles on a grid of the patch, anticlockwise seen from outside, and (m, 3) its nodes."""
    torus = s.kind == "torus"
    around = steps_round(u1 - u0)
    if s.kind != "cylinder" and u1 - u0 > tau - 1e-3:
        around += -around % 4  # corners on the four sides of the axes: seen from beside it is as wide as it is
    along = steps_round(w1 - w0) if torus else 1
    nodes = grid_of(s, frame, (u0, u1, w0, w1), around, along).reshape(-1, 3)
    both = nodes[_pattern(around, along, s.hollow)]
    if s.kind == "cone":  # at a tip every other triangle has no extent
        both = both[np.linalg.norm(np.cross(both[:, 1] - both[:, 0], both[:, 2] - both[:, 0]), axis=1) > 1e-9]
    return both, nodes


@lru_cache(maxsize=256)
def _pattern(around: int, along: int, turned: bool) -> np.ndarray:
    """(n, 3) nodes of the two triangles in each cell of a grid, cell by cell; clockwise if turned."""
    at = np.arange((around + 1) * (along + 1)).reshape(around + 1, along + 1)
    a, b, c, d = at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]
    both = np.stack([np.stack([a, b, c], axis=2), np.stack([a, c, d], axis=2)], axis=2).reshape(-1, 3)
    return np.ascontiguousarray(both[:, ::-1] if turned else both)


def grid_of(s: Surface, frame: Frame, box: tuple[float, float, float, float], around: int, along: int) -> np.ndarray:
    """(around + 1, along + 1, 3) points on a rectangle of the surface, at equal steps of u and of w."""
    u, w = _spread(box[0], box[1], around), _spread(box[2], box[3], along)
    torus = s.kind == "torus"
    radius = s.major_radius + s.radius * np.cos(w) if torus else np.array([radius_at(s, h) for h in w])
    height = s.radius * np.sin(w) if torus else w
    o, z, x, y = (np.array(v) for v in frame)
    out = np.cos(u)[:, None] * x + np.sin(u)[:, None] * y
    return np.asarray(o + radius[None, :, None] * out[:, None, :] + height[None, :, None] * z)


def _spread(first: float, last: float, steps: int) -> np.ndarray:
    """The same as np.linspace(first, last, steps + 1), in a fifth of the time."""
    out = _counted(steps) * ((last - first) / steps) + first
    out[-1] = last
    return out


@lru_cache(maxsize=256)
def _counted(steps: int) -> np.ndarray:
    return np.arange(steps + 1, dtype=float)


def steps_round(turn: float) -> int:
    """Facets on a turn."""
    return max(1, ceil(turn / FACET_RAD - 1e-9))
