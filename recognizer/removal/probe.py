"""Points in the box, each told whether the part or a removal body holds it: only used where figures do not close."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import STRtree

from recognizer.removal.frames import Shop
from recognizer.removal.solids import ACROSS, Body

POINTS = 4000
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
    polygons, planes = _projected(shop, k)
    i, j = ACROSS[k]
    if not len(polygons):
        return np.zeros(len(p), dtype=bool)
    points, hits = STRtree(polygons).query(shapely.points(p[:, i], p[:, j]), predicate="intersects")
    a, b, c = planes[hits].T
    above = a * p[points, i] + b * p[points, j] + c > p[points, k]
    return np.bincount(points[above], minlength=len(p)) % 2 == 1


def _projected(shop: Shop, k: int) -> tuple[np.ndarray, np.ndarray]:
    """(polygons across axis k, (m, 3) coefficients of level = a x + b y + c) of plane faces and of curved faces' facets."""
    i, j = ACROSS[k]
    snap = shop.ctx.snapshot
    polygons, planes = [], []
    for f in shop.ctx.faces:
        if f.kind == "plane":
            n = shop.turn(f.surface.axis)
            if abs(n[k]) < 1e-9:
                continue
            rings = [[shop.turn(q) for q in snap.loop_points(f.index, m)] for m in range(len(f.loops))]
            flat = [[(q[i], q[j]) for q in r] for r in rings if len(r) > 2]
            if flat:
                polygons.append(shapely.Polygon(flat[0], flat[1:]).buffer(0))
                planes.append((-n[i] / n[k], -n[j] / n[k], f.surface.offset / n[k]))
            continue
        q = np.array([[shop.turn(x) for x in t] for t in snap.facets.get(f.index, ())])
        if len(q):
            n3 = np.cross(q[:, 1] - q[:, 0], q[:, 2] - q[:, 0])
            q, n3 = q[np.abs(n3[:, k]) > 1e-9], n3[np.abs(n3[:, k]) > 1e-9]
            polygons += list(shapely.polygons(q[:, :, (i, j)]))
            planes += [(-n[i] / n[k], -n[j] / n[k], float(n @ p) / n[k]) for n, p in zip(n3, q[:, 0], strict=True)]
    return np.array(polygons, dtype=object), np.array(planes).reshape(-1, 3)


def touched(shop: Shop, bodies: list[Body]) -> list[str]:
    """Names of bodies that hold a point of the part's edges deeper than the arcs' inexactness: they cut the part."""
    low, high = np.array(shop.low), np.array(shop.high)
    margin = 1e-3 * float((high - low).max()) + 0.01
    rows = [q for e in shop.ctx.snapshot.edges for q in (*e.points, e.middle, _half(e.points))]
    p = np.array([shop.turn(q) for q in rows])
    tree = STRtree(shapely.points(p[:, 0], p[:, 1]))
    out = []
    for b in bodies:
        near = tree.query(shapely.box(*b.bounds[0, :2], *b.bounds[1, :2]))
        near = near[((p[near] > b.bounds[0] + margin) & (p[near] < b.bounds[1] - margin)).all(axis=1)]
        if len(near) and b.contains(p[near], margin).any():
            out.append(b.name)
    return out


def _half(points: tuple) -> tuple[float, float, float]:  # type: ignore[type-arg]
    a, b = points[len(points) // 2 - 1], points[len(points) // 2]
    return ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2)
