"""Points in the box, each told whether the part or a removal body holds it: only used where figures do not close."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import STRtree

from recognizer.removal.body import Body
from recognizer.removal.frames import Shop
from recognizer.removal.solids import ACROSS
from recognizer.vector import cross, dot, sub

POINTS = 4000
_AT_ONCE = 500
"""Points that are held against all triangles of a face at once."""
_ROOT = 1.22074408460575947536
"""Real root of x^4 = x + 1: its powers' reciprocals step a point set that fills a box evenly (additive recurrence)."""


@dataclass(frozen=True)
class Survey:
    """Volumes in mm3 by counting points, and the boxes (2, 3) that hold them; None where there is nothing."""

    left: float
    left_box: np.ndarray | None
    over: float
    over_box: np.ndarray | None
    over_by: dict[str, float]


def survey(shop: Shop, bodies: list[Body]) -> Survey:
    """Where neither part nor body is (left), and where both are (over)."""
    low, high = np.array(shop.low), np.array(shop.high)
    share = (np.arange(1, POINTS + 1)[:, None] * np.array([_ROOT**-1, _ROOT**-2, _ROOT**-3]) + 0.5) % 1.0
    p = low + share * (high - low)
    each = float(np.prod(high - low)) / POINTS
    solid = in_part(shop, p)
    taken = np.zeros(len(p), dtype=bool)
    surely = np.zeros(len(p), dtype=bool)
    by = {}
    margin = 2e-4 * float((high - low).max())
    for b in bodies:
        near = ((p > b.bounds[0] - margin) & (p < b.bounds[1] + margin)).all(axis=1)
        if not near.any():
            continue
        taken[near] |= b.contains(p[near], -margin)
        deep = np.zeros(len(p), dtype=bool)
        deep[near] = b.contains(p[near], margin)
        surely |= deep
        if (deep & solid).any():
            by[b.name] = float((deep & solid).sum()) * each
    left, over = ~solid & ~taken, solid & surely
    return Survey(left.sum() * each, _box(p[left]), over.sum() * each, _box(p[over]), by)


def _box(p: np.ndarray) -> np.ndarray | None:
    return np.array([p.min(axis=0), p.max(axis=0)]) if len(p) else None


def in_part(shop: Shop, p: np.ndarray) -> np.ndarray:
    """(n,) True for points inside the part: majority of three rays along the frame's axes."""
    return sum(_odd(shop, p, k).astype(int) for k in range(3)) >= 2  # type: ignore[return-value]


def _odd(shop: Shop, p: np.ndarray, k: int) -> np.ndarray:
    """Whether a ray up axis k from each point meets the part's faces an odd number of times."""
    i, j = ACROSS[k]
    x, y, z = p[:, i], p[:, j], p[:, k]
    count = np.zeros(len(p), dtype=int)
    polygons, planes = shop.once(("planes", k), lambda: _flat_faces(shop, k))
    for polygon, (a, b, c) in zip(polygons, planes, strict=True):
        x0, y0, x1, y1 = polygon.bounds
        near = np.flatnonzero((x > x0) & (x < x1) & (y > y0) & (y < y1))
        near = near[a * x[near] + b * y[near] + c > z[near]]
        if len(near):
            shapely.prepare(polygon)
            count[near[shapely.contains_xy(polygon, x[near], y[near])]] += 1
    for face in _curved_faces(shop, k):
        (x0, y0), (x1, y1) = face.low, face.high
        near = np.flatnonzero((x >= x0) & (x <= x1) & (y >= y0) & (y <= y1))
        if len(near):
            count[near] += face.crossings(x[near], y[near], z[near])
    return count % 2 == 1


def _flat_faces(shop: Shop, k: int) -> tuple[list[shapely.Polygon], list[tuple[float, float, float]]]:
    """Plane faces across axis k, and (a, b, c) of their level a x + b y + c."""
    i, j = ACROSS[k]
    snap = shop.ctx.snapshot
    polygons, planes = [], []
    for f in shop.ctx.faces:
        n = shop.turn(f.surface.axis)
        if f.kind != "plane" or abs(n[k]) < 1e-9:
            continue
        rings = [shop.turned(snap.loop_points(f.index, m)) for m in range(len(f.loops))]
        flat = [r[:, (i, j)] for r in rings if len(r) > 2]
        if flat:
            polygon = shapely.Polygon(flat[0], flat[1:])
            polygons.append(polygon if polygon.is_valid else polygon.buffer(0))
            planes.append((-n[i] / n[k], -n[j] / n[k], f.surface.offset / n[k]))
    return polygons, planes


@dataclass(frozen=True)
class _Curved:
    """A curved face's triangles seen across an axis: (n, 3, 2) corners, (n, 3) coefficients a, b, c of their levels
    a x + b y + c, and the box round them.
    """

    corners: np.ndarray
    levels: np.ndarray
    low: np.ndarray
    high: np.ndarray

    def crossings(self, x: np.ndarray, y: np.ndarray, z: np.ndarray) -> np.ndarray:
        """(n,) How many triangles lie above each point."""
        out = np.zeros(len(x), dtype=int)
        for m in range(0, len(x), _AT_ONCE):
            px, py, pz = (w[m : m + _AT_ONCE, None] for w in (x, y, z))
            a, b, c = self.levels.T
            above = a * px + b * py + c > pz
            sides = [_side(self.corners, i, px, py) for i in range(3)]
            inside = np.all([s >= 0 for s in sides], axis=0) | np.all([s <= 0 for s in sides], axis=0)
            out[m : m + _AT_ONCE] = (above & inside).sum(axis=1)
        return out


def _side(corners: np.ndarray, i: int, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """(points, n) positive where a point lies to the left of the i-th side of a triangle."""
    (ax, ay), (bx, by) = corners[:, i].T, corners[:, (i + 1) % 3].T
    return (bx - ax) * (y - ay) - (by - ay) * (x - ax)


def _curved_faces(shop: Shop, k: int) -> list[_Curved]:
    """Curved faces across axis k; triangles that stand along it are left out."""
    return shop.once(("curved", k), lambda: [c for f in shop.facets if (c := _seen(f, k)) is not None])  # type: ignore[no-any-return]


def _seen(q: np.ndarray, k: int) -> _Curved | None:
    i, j = ACROSS[k]
    n = np.cross(q[:, 1] - q[:, 0], q[:, 2] - q[:, 0])
    seen = np.abs(n[:, k]) > 1e-9
    if not seen.any():
        return None
    q, n = q[seen], n[seen]
    flat = q[:, :, (i, j)]
    level = (n * q[:, 0]).sum(axis=1)
    coefficients = np.column_stack([-n[:, i], -n[:, j], level]) / n[:, k : k + 1]
    return _Curved(flat, coefficients, flat.min(axis=(0, 1)), flat.max(axis=(0, 1)))


def void_volume(shop: Shop, faces: list[int]) -> float:
    """mm3 inside a closed shell of faces, by the divergence theorem: exact for planes, by facets for curved faces."""
    total = 0.0
    for i in faces:
        f = shop.ctx.faces[i]
        if f.kind == "plane":
            total += f.surface.offset * f.area / 3
            continue
        for a, b, c in shop.ctx.snapshot.facets.get(i, ()):
            six = dot(cross(a, b), c)
            m = f.surface.normal_at(a)
            outwards = m is None or dot(cross(sub(b, a), sub(c, a)), m) > 0
            total += (six if outwards else -six) / 6
    return abs(total)


def cutting(shop: Shop, bodies: list[Body]) -> list[str]:
    """Names of bodies that cut into the part: they hold points of its edges, or points of them lie inside it."""
    return sorted(set(_holding_edges(shop, bodies)) | set(_inside(shop, bodies)))


def _inside(shop: Shop, bodies: list[Body]) -> list[str]:
    """Bodies of which a sample lies in the part: one ray for all, three for those that it puts inside."""
    each = [b.samples() for b in bodies]
    p = np.concatenate(each) if each else np.zeros((0, 3))
    owner = np.repeat(np.arange(len(each)), [len(e) for e in each])
    in_box = ((p > np.array(shop.low)) & (p < np.array(shop.high))).all(axis=1)
    p, owner = p[in_box], owner[in_box]
    if not len(p):
        return []
    suspect = np.flatnonzero(_odd(shop, p, 2))
    if len(suspect):
        suspect = suspect[in_part(shop, p[suspect])]
    return [bodies[n].name for n in sorted(set(owner[suspect].tolist()))]


def _holding_edges(shop: Shop, bodies: list[Body]) -> list[str]:
    """Bodies that hold a point of the part's edges deeper than the arcs' inexactness."""
    if not bodies:
        return []
    low, high = np.array(shop.low), np.array(shop.high)
    margin = 1e-3 * float((high - low).max()) + 0.01
    p = shop.turned([q for e in shop.ctx.snapshot.edges for q in (*e.points, _half(e.points))])
    boxes = np.array([b.bounds for b in bodies])
    flat = shapely.box(*boxes[:, 0, :2].T, *boxes[:, 1, :2].T)
    which, points = STRtree(shapely.points(p[:, 0], p[:, 1])).query(flat)
    deep = ((p[points] > boxes[which, 0] + margin) & (p[points] < boxes[which, 1] - margin)).all(axis=1)
    which, points = which[deep], points[deep]
    out = []
    for n in np.unique(which):
        if bodies[n].contains(p[points[which == n]], margin).any():
            out.append(bodies[n].name)
    return out


def _half(points: tuple) -> tuple[float, float, float]:  # type: ignore[type-arg]
    a, b = points[len(points) // 2 - 1], points[len(points) // 2]
    return ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2)
