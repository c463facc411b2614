"""Cylinder and cone faces of any outline: unrolled to a plane polygon, whose edges give area and flux, and whose strips
between rulings give triangles.

Coordinates as in `patches.py`: u, radians about the axis; w, height along it. Unrolled, u is taken times the radius.
"""

from __future__ import annotations

from math import cos, degrees, pi, radians, sin, tan, tau

import numpy as np
import shapely
from manifold3d import triangulate
from shapely import Polygon

from recognizer.convex import Point
from recognizer.plainread.curves import Curve
from recognizer.plainread.free import nodes_between
from recognizer.plainread.patches import OFF_MM, Patch, Walk, outer_first, patch_of, steps_round
from recognizer.plainread.records import Frame, NotPlain
from recognizer.snapshot import Surface

HALF_CHORD_RAD = radians(2.5)
"""A circle's outline is judged in chords of twice this, which stray 0.1 % of the radius."""
MOST_TURN = 0.5
"""Radians about the axis from one point of an outline to the next: more cannot be told from a turn the other way."""

ON_CUT = 1e-8
"""Mm from a cut between strips within which a corner lies on it."""
MOST_CHORDS = 49
"""Points along an edge that facets meet."""


def patch_in(s: Surface, frame: Frame, loops: list[Walk]) -> Patch:
    """The face inside some loops: a rectangle if it is one, else of any outline. Raises NotPlain where neither is certain."""
    if len(loops) == 1:
        try:
            return patch_of(s, frame, loops[0])
        except NotPlain:
            pass
    return trimmed_of(s, frame, loops)


def trimmed_of(s: Surface, frame: Frame, loops: list[Walk]) -> Patch:
    """The face inside some loops. Raises NotPlain where it is not beyond doubt that they bound one, the right way round."""
    if s.kind not in ("cylinder", "cone"):
        raise NotPlain("a curved face of another outline")
    rings = [_unrolled(s, frame, loop) for loop in loops]
    outer, outline = _outline(s, rings)
    _check_seam(s, loops, outline)
    area, flux = _measured(s, frame, loops)
    u0, w0, u1, w1 = outline.bounds
    box = (u0 / _scale(s), u1 / _scale(s), w0, w1)
    chords = [
        np.concatenate([(_chords(c) if forward else _chords(c)[::-1])[:-1] for _, c, forward in loop]) for loop in loops
    ]
    facets = triangles_of(s, frame, outer_first(chords, outer), box, _around(s, box[1] - box[0]))
    turned = min(360.0, degrees(box[1] - box[0]))
    return Patch(box, turned, area, -flux if s.hollow else flux, facets, facets.reshape(-1, 3), True, outer)


def _chords(curve: Curve) -> np.ndarray:
    """(n, 3) an edge's polyline, thinned out where a spline has very many points."""
    points = np.array(curve.points)
    return points if len(points) <= MOST_CHORDS else points[np.linspace(0, len(points) - 1, MOST_CHORDS).astype(int)]


def _around(s: Surface, turn: float) -> int:
    """Strips on a turn: of a whole cone with corners on the four sides of the axes, as in `patches.py`."""
    count = steps_round(turn)
    return count + (-count % 4 if s.kind == "cone" and turn > tau - 1e-3 else 0)


def _scale(s: Surface) -> float:
    """Mm that a radian is unrolled to."""
    return max(s.radius, 1.0)


def _lean(s: Surface) -> float:
    """Growth of the radius along the axis."""
    return tan(radians(s.half_angle)) if s.kind == "cone" else 0.0


def _flat(s: Surface, frame: Frame, points: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(n, 2) points unrolled along a ring, (n,) their distances from the axis, (n,) radians from each to the next."""
    rel = points - np.array(frame[0])
    x, y, w = (rel @ np.array(v) for v in (frame[2], frame[3], frame[1]))
    u = np.arctan2(y, x)
    steps = (np.diff(u, append=u[0]) + pi) % tau - pi
    unrolled = (u[0] + np.concatenate([[0.0], np.cumsum(steps[:-1])])) * _scale(s)
    return np.stack([unrolled, w], axis=1), np.hypot(x, y), steps


def _unrolled(s: Surface, frame: Frame, loop: Walk) -> np.ndarray:
    """(n, 2) ring in the plane; raises NotPlain where an edge leaves the surface or the ring does not come back."""
    runs = [_fine(curve)[:: 1 if forward else -1] for _, curve, forward in loop]
    flat, r, steps = _flat(s, frame, np.concatenate([run[:-1] for run in runs]))
    if np.abs(r - s.radius - flat[:, 1] * _lean(s)).max() > OFF_MM or r.min() < 100 * OFF_MM:
        raise NotPlain("an edge leaves its surface")
    if np.abs(steps).max() > MOST_TURN or abs(steps.sum()) > 1e-6:
        raise NotPlain("an outline goes round its surface")
    return flat


def _fine(curve: Curve) -> np.ndarray:
    """(n, 3) points of an edge in short steps."""
    if curve.free is not None:
        return curve.free.fine
    if curve.frame is None:  # a line that lies on the surface in three places is a ruling
        a, b = np.array(curve.points[0]), np.array(curve.points[-1])
        return np.stack([a, (a + b) / 2, b])
    c, z = np.array(curve.frame[0]), np.array(curve.frame[1])
    arm, turn = np.array(curve.points[0]) - c, curve.length / curve.radius
    t = np.linspace(0.0, turn, 2 + int(turn / (2 * HALF_CHORD_RAD)))[:, None]
    return c + np.cos(t) * arm + np.sin(t) * np.cross(z, arm)  # type: ignore[no-any-return]


def _outline(s: Surface, rings: list[np.ndarray]) -> tuple[int, Polygon]:
    """Place of the outer ring, and the unrolled face; brings the rings to one turn. Raises NotPlain where they cross or run
    the wrong way."""
    areas = [_twice(ring) * (-1 if s.hollow else 1) for ring in rings]
    outer = int(np.argmax(areas))
    if areas[outer] <= 0 or any(a >= 0 for k, a in enumerate(areas) if k != outer):
        raise NotPlain("a loop runs the wrong way round")
    left = rings[outer][:, 0].min()
    turn = tau * _scale(s)
    for ring in rings:
        ring[:, 0] -= turn * np.floor((ring[:, 0].min() - left) / turn + 1e-9)
    shape = Polygon(rings[outer], [r for k, r in enumerate(rings) if k != outer])
    if np.ptp(rings[outer][:, 0]) > turn + OFF_MM or not shape.is_valid:
        raise NotPlain("an outline crosses itself")
    return outer, shape


def _twice(ring: np.ndarray) -> float:
    """Twice the area of a ring, positive where it runs anticlockwise."""
    (x, y), (x2, y2) = ring.T, np.roll(ring, -1, axis=0).T
    return float((x * y2 - y * x2).sum())


def _check_seam(s: Surface, loops: list[Walk], outline: Polygon) -> None:
    """Edges stand twice in the face exactly where they are lines at both ends of a full turn."""
    u0, _, u1, _ = outline.bounds
    curves = {edge: curve for loop in loops for edge, curve, _ in loop}
    each = [edge for loop in loops for edge, _, _ in loop]
    seams = [edge for edge in curves if each.count(edge) > 1]
    if not seams and u1 - u0 < tau * _scale(s) - 100 * OFF_MM:
        return
    if not seams or any(curves[e].name != "line" or each.count(e) != 2 for e in seams):
        raise NotPlain("a face closes on itself otherwise than along a seam")
    if abs(u1 - u0 - tau * _scale(s)) > OFF_MM:
        raise NotPlain("a seam is not at the ends of a turn")


def _measured(s: Surface, frame: Frame, loops: list[Walk]) -> tuple[float, float]:
    """Area, and flux (p . n) away from the axis, by Green's theorem along the edges.

    With A(w) the area of a strip one radian wide up to the height w, they are minus the integrals of A du and of g A du;
    g = (o . e(u)) cos a - (o . z) sin a + r cos a for a surface from o that has the radius r there and leans by a.
    """
    a = radians(s.half_angle) if s.kind == "cone" else 0.0
    o, z, x, y = (np.array(v) for v in frame)
    area = flux = 0.0
    for _, curve, forward in (item for loop in loops for item in loop):
        if curve.name == "line" and curve.free is None:
            continue
        points, slopes, weights = _nodes(curve)
        rel = points - o
        px, py, w = rel @ x, rel @ y, rel @ z
        r2 = px * px + py * py
        du = (px * (slopes @ y) - py * (slopes @ x)) / r2 * weights
        strip = (s.radius * w + w * w * tan(a) / 2) / cos(a)
        g = ((o @ x) * px + (o @ y) * py) / np.sqrt(r2) * cos(a) - (o @ z) * sin(a) + s.radius * cos(a)
        way = -1.0 if forward else 1.0
        area += way * float((strip * du).sum())
        flux += way * float((g * strip * du).sum())
    turned = -1.0 if s.hollow else 1.0
    if not turned * area > 0:
        raise NotPlain("a face has no area")
    return turned * area, turned * flux


def _nodes(curve: Curve) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(n, 3) points, (n, 3) slopes, (n,) weights of an arc or a free curve (see FreeCurve.nodes)."""
    if curve.free is not None:
        return curve.free.nodes
    assert curve.frame is not None
    c, z = np.array(curve.frame[0]), np.array(curve.frame[1])
    arm, turn = np.array(curve.points[0]) - c, curve.length / curve.radius
    across = np.cross(z, arm)
    t, weights = nodes_between(np.linspace(0.0, turn, 5))
    t = t[:, None]
    return c + np.cos(t) * arm + np.sin(t) * across, np.cos(t) * across - np.sin(t) * arm, weights


def triangles_of(
    s: Surface, frame: Frame, loops: list[np.ndarray], box: tuple[float, float, float, float], around: int
) -> np.ndarray:
    """(n, 3, 3) corners of triangles between polylines on the surface, (n, 3) each, the outer one first: anticlockwise seen
    from outside, in so many strips between rulings. box: as of a Patch. Raises NotPlain where the chords cross.
    """
    u0, u1, w0, w1 = box
    cuts = np.linspace(u0, u1, around + 1) * _scale(s)
    rings = [_split(ring, cuts) for ring in _rings(s, frame, loops, u0)]
    shape = Polygon(rings[0], rings[1:])
    if not shape.is_valid:
        raise NotPlain("an outline crosses itself in its chords")
    strips = shapely.intersection(shape, shapely.box(cuts[:-1], w0 - 1.0, cuts[1:], w1 + 1.0))
    flat = _triangles(strips, np.concatenate(rings), cuts)
    a, b = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
    flat = flat[np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) > 1e-9]
    if s.hollow:
        flat = flat[:, ::-1]
    u, w = flat[..., 0] / _scale(s), flat[..., 1]
    radius = s.radius + w * _lean(s)
    o, z, x, y = (np.array(v) for v in frame)
    across = (radius * np.cos(u))[..., None] * x + (radius * np.sin(u))[..., None] * y
    return np.asarray(o + across + w[..., None] * z)


def _split(ring: np.ndarray, cuts: np.ndarray) -> np.ndarray:
    """A ring with corners where it passes a cut, so that strips on both sides have the same; corners by a cut lie on it."""
    near = cuts[np.clip(np.searchsorted(cuts, ring[:, 0] - ON_CUT), 0, len(cuts) - 1)]
    ring = np.stack([np.where(np.abs(near - ring[:, 0]) < ON_CUT, near, ring[:, 0]), ring[:, 1]], axis=1)
    ends, lines = np.roll(ring, -1, axis=0), cuts.tolist()
    low, high = np.minimum(ring[:, 0], ends[:, 0]), np.maximum(ring[:, 0], ends[:, 0])
    first, last = np.searchsorted(cuts, low, side="right"), np.searchsorted(cuts, high, side="left")
    out: list[Point] = []
    for (x, y), (x2, y2), i, j in zip(ring.tolist(), ends.tolist(), first.tolist(), last.tolist(), strict=True):
        out.append((x, y))
        if i < j:
            between = lines[i:j] if x < x2 else lines[i:j][::-1]
            out += [(cut, y + (cut - x) / (x2 - x) * (y2 - y)) for cut in between]
    return np.array(out)


def _rings(s: Surface, frame: Frame, loops: list[np.ndarray], least: float) -> list[np.ndarray]:
    """Unrolled polylines from the angle `least` on."""
    turn, out = tau * _scale(s), []
    for points in loops:
        ring = _flat(s, frame, points)[0]
        ring[:, 0] -= turn * np.round((ring[:, 0].min() - least * _scale(s)) / turn - 0.5 + 1e-6)
        out.append(ring)
    return out


def _triangles(strips: np.ndarray, corners: np.ndarray, cuts: np.ndarray) -> np.ndarray:
    """(n, 3, 2) triangles, anticlockwise, of all strips; those of neighbours meet corner to corner on the cuts.

    corners: (m, 2) all that the strips have on the cuts. All are triangulated at once, drawn apart from each other.
    """
    heights = {cut: sorted(set(corners[corners[:, 0] == cut, 1].tolist())) for cut in cuts.tolist()}
    parts, strip = shapely.get_parts(strips, return_index=True)
    pieces, piece = shapely.get_parts(parts, return_index=True)
    areas = shapely.get_type_id(pieces) == shapely.GeometryType.POLYGON
    if not areas.any():
        raise NotPlain("a face has no area between its chords")
    strip = strip[piece][areas]
    rings, of = shapely.get_rings(shapely.orient_polygons(pieces[areas]), return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    starts = np.searchsorted(ring, np.arange(len(rings) + 1)).tolist()
    whole = points.tolist()
    outlines = [np.array(_with_corners(whole[i:j], heights)) for i, j in zip(starts, starts[1:], strict=False)]
    apart = strip[of] * (2.0 * np.ptp(cuts))
    drawn = [np.stack([q[:, 0] + gap, q[:, 1]], axis=1) for q, gap in zip(outlines, apart, strict=True)]
    return np.concatenate(outlines)[np.asarray(triangulate(drawn))]


def _with_corners(ring: list[Point], heights: dict[float, list[float]]) -> list[Point]:
    """A closed ring, without its first corner again, with those corners of others that lie along its cuts."""
    out: list[Point] = []
    for a, b in zip(ring, ring[1:], strict=False):
        out.append(a)
        if a[0] == b[0]:
            between = [h for h in heights.get(a[0], ()) if min(a[1], b[1]) < h < max(a[1], b[1])]
            out += [(a[0], h) for h in (between if a[1] < b[1] else between[::-1])]
    return out
