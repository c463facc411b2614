"""Points in the box, each told whether the part or a removal body holds it: only used where figures do not close."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import STRtree

from recognizer.crossings import of_surface
from recognizer.removal.body import Body
from recognizer.removal.frames import Shop
from recognizer.removal.inside import in_part, odd
from recognizer.vector import cross, dot, sub

POINTS = 4000
SAG = 0.005
"""Of a radius lies a facet's middle inside its arc at most, and a little more."""
FEW = 100_000
"""Points times bodies up to which all are compared; beyond, a tree of points is worth its making."""
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
        cut = np.flatnonzero(deep & solid)
        deep[cut[_in_chords(shop, p[cut])]] = False
        surely |= deep
        if (deep & solid).any():
            by[b.name] = float((deep & solid).sum()) * each
    left, over = ~solid & ~taken, solid & surely
    return Survey(left.sum() * each, _box(p[left]), over.sum() * each, _box(p[over]), by)


def _in_chords(shop: Shop, p: np.ndarray) -> np.ndarray:
    """(n,) True for points between a hollow face and the chords of its facets, which the facets put into the part."""
    at = p @ np.array(shop.ctx.frame.axes)
    out = np.zeros(len(p), dtype=bool)
    for f in shop.ctx.faces:
        if shop.ctx.graph.hollow(f.index) and not out.all():
            gaps, most = -of_surface(f.surface, at), SAG * f.surface.radius
            out |= (-0.1 * most < gaps) & (gaps < most)
    return out


def _box(p: np.ndarray) -> np.ndarray | None:
    return np.array([p.min(axis=0), p.max(axis=0)]) if len(p) else None


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
    suspect = np.flatnonzero(odd(shop, p, 2))
    if len(suspect):
        suspect = suspect[in_part(shop, p[suspect])]
    return [bodies[n].name for n in sorted(set(owner[suspect].tolist()))]


def _holding_edges(shop: Shop, bodies: list[Body]) -> list[str]:
    """Bodies that hold a point of the part's edges deeper than the arcs' inexactness."""
    if not bodies:
        return []
    low, high = np.array(shop.low), np.array(shop.high)
    margin = 1e-3 * float((high - low).max()) + 0.01
    every = shop.ctx.snapshot.edge_points
    chords, counts = every.chords(shop.ctx.snapshot.edges)
    halves = _on_circles(shop, chords[np.cumsum(counts) - counts + (counts + 1) // 2 - 1].mean(axis=1))
    p = np.concatenate([every.points, halves]) @ np.array(shop.ctx.frame.axes).T
    boxes = np.array([b.bounds for b in bodies])
    which, points = _within(p, boxes + [[margin], [-margin]])
    out = []
    for n in np.unique(which):
        if bodies[n].contains(p[points[which == n]], margin).any():
            out.append(bodies[n].name)
    return out


def _on_circles(shop: Shop, middles: np.ndarray) -> np.ndarray:
    """(n, 3) middles of chords, one an edge: those of circles moved out to their arc."""
    out = middles.copy()
    for k, e in enumerate(shop.ctx.snapshot.edges):
        if e.curve == "circle" and e.centre:
            away = middles[k] - e.centre
            out[k] = e.centre + away * (e.radius / (float(np.linalg.norm(away)) or 1.0))
    return out


def _within(p: np.ndarray, boxes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of a box and a point inside it, as two arrays of places."""
    if len(p) * len(boxes) <= FEW:
        inside = ((p > boxes[:, None, 0]) & (p < boxes[:, None, 1])).all(axis=2)
        return np.nonzero(inside)  # type: ignore[return-value]
    flat = shapely.box(*boxes[:, 0, :2].T, *boxes[:, 1, :2].T)
    which, point = STRtree(shapely.points(p[:, 0], p[:, 1])).query(flat)
    inside = ((p[point] > boxes[which, 0]) & (p[point] < boxes[which, 1])).all(axis=1)
    return which[inside], point[inside]
