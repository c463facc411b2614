"""Convex polygons in plain numbers: hulls, cuts by half-planes, widest circles.

Most regions that a cutter clears are convex with a handful of corners; on those a general polygon library spends its
time on building its objects. A ring is a list of corners, clockwise, without its first corner repeated.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import hypot

Point = tuple[float, float]
Ring = list[Point]

TINY = 1e-7
"""Mm: corners nearer than this to each other, or to the line through their neighbours, are none."""


def hull(points: Iterable[Point]) -> Ring:
    """Convex hull, from its lowest corner on (the leftmost of several), by Andrew's monotone chain (1979); [] where all
    points lie on one line.
    """
    ordered = sorted(set(points), key=lambda q: (q[1], q[0]))
    ring = _chain(ordered)[:-1] + _chain(ordered[::-1])[:-1]
    return ring if len(ring) > 2 else []


def _chain(ordered: Sequence[Point]) -> Ring:
    """Corners of a hull between the first and the last point, turning right all the way."""
    chain: Ring = []
    for q in ordered:
        while len(chain) > 1 and _cross(chain[-2], chain[-1], q) >= 0:
            chain.pop()
        chain.append(q)
    return chain


def _cross(a: Point, b: Point, c: Point) -> float:
    """Twice the area of a triangle, positive where it runs anticlockwise."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def tidy(ring: Ring) -> Ring:
    """A convex ring without double corners and corners on a straight line."""
    out: Ring = []
    for q in ring:
        if out and hypot(q[0] - out[-1][0], q[1] - out[-1][1]) <= TINY:
            continue
        while len(out) > 1 and _straight(out[-2], out[-1], q):
            out.pop()
        out.append(q)
    while len(out) > 2 and _straight(out[-2], out[-1], out[0]):
        out.pop()
    while len(out) > 2 and _straight(out[-1], out[0], out[1]):
        del out[0]
    return out


def _straight(a: Point, b: Point, c: Point) -> bool:
    """b on the line from a to c."""
    return abs(_cross(a, b, c)) <= TINY * hypot(c[0] - a[0], c[1] - a[1])


def area(ring: Ring) -> float:
    """Area, positive for a clockwise ring."""
    return -sum(_cross(ring[0], a, b) for a, b in zip(ring[1:], ring[2:], strict=False)) / 2 + 0.0


def bounds(ring: Ring) -> tuple[float, float, float, float]:
    """(least x, least y, greatest x, greatest y)."""
    xs, ys = zip(*ring, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def cut(ring: Ring, n: Point, c: float) -> Ring:
    """Part of a convex ring where n . q >= c, n a unit vector; itself where nothing is cut off, [] where all is."""
    nx, ny = n
    over = [nx * x + ny * y - c for x, y in ring]
    if not over or min(over) >= -TINY / 100:
        return ring
    if max(over) < 0:
        return []
    out: Ring = []
    (px, py), v = ring[-1], over[-1]
    for q, w in zip(ring, over, strict=True):
        x, y = q
        if (v < 0) != (w < 0):
            t = v / (v - w)
            out.append((px + (x - px) * t, py + (y - py) * t))
        if w >= 0:
            out.append(q)
        px, py, v = x, y, w
    return out if len(out) > 2 else []


def is_convex(ring: Ring) -> bool:
    """A ring that turns right at every corner, and once round in all."""
    steps = [(b[0] - a[0], b[1] - a[1]) for a, b in zip(ring, ring[1:] + ring[:1], strict=True)]
    turns = zip(steps, steps[1:] + steps[:1], strict=True)
    if len(ring) < 3 or any(a[0] * b[1] - a[1] * b[0] > TINY * hypot(*a) * hypot(*b) for a, b in turns):
        return False
    # Once round, the steps point up in one stretch: two changes between up and not up.
    up = [s[1] > 0 or (s[1] == 0 and s[0] > 0) for s in steps]
    return sum(a != b for a, b in zip(up, up[1:] + up[:1], strict=True)) == 2


def inscribed_radius(ring: Ring) -> float:
    """Radius of the largest circle in a convex ring, exact.

    All sides move inwards at one speed; a side that its two neighbours squeeze out goes, and the one after which the
    rest cannot close a polygon any more says how far they came.
    """
    lines = _lines(tidy(ring))
    if len(lines) < 3:
        return 0.0
    ends = [_squeezed(lines[k - 1], lines[k], lines[(k + 1) % len(lines)]) for k in range(len(lines))]
    while True:
        k = ends.index(min(ends))
        before, after = lines[k - 1], lines[(k + 1) % len(lines)]
        if len(lines) == 3 or before[0] * after[1] - before[1] * after[0] > -1e-9:
            return max(0.0, ends[k])
        del lines[k], ends[k]
        count = len(lines)
        for j in (k - 1, k % count):
            ends[j] = _squeezed(lines[j - 1], lines[j], lines[(j + 1) % count])


Line = tuple[float, float, float]
"""(nx, ny, c): n . q >= c is its inner side."""


def _lines(ring: Ring) -> list[Line]:
    out = []
    for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
        size = hypot(b[0] - a[0], b[1] - a[1])
        n = ((b[1] - a[1]) / size, (a[0] - b[0]) / size)
        out.append((*n, n[0] * a[0] + n[1] * a[1]))
    return out


def _squeezed(before: Line, line: Line, after: Line) -> float:
    """How far three lines move inwards until they meet in one point; inf where they never do."""
    ax, ay, ac = before[0] - line[0], before[1] - line[1], before[2] - line[2]
    bx, by, bc = after[0] - line[0], after[1] - line[1], after[2] - line[2]
    det = ax * by - ay * bx
    if abs(det) < 1e-15:
        return float("inf")
    x, y = (ac * by - ay * bc) / det, (ax * bc - ac * bx) / det
    return line[0] * x + line[1] * y - line[2]
