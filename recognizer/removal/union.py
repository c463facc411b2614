"""Volume of the union of bodies inside a box, each point counted for the first body that holds it.

Bodies that stand alone take their closed form. Bodies whose boxes overlap form a cluster, which is sliced across one
axis: the sections' areas are integrated between the levels where some body begins, ends or turns a corner; one slice
where all sections are constant there, else Gauss-Legendre points after z = m + h sin(pi t / 2), which keeps the
square roots at a cylinder's flanks smooth.
"""

from __future__ import annotations

from math import pi

import numpy as np
import shapely
from shapely import STRtree
from shapely.geometry.base import BaseGeometry

from recognizer.removal.body import Body
from recognizer.removal.solids import ACROSS
from shared.units import Vector

POINTS = 6
_T, _W = np.polynomial.legendre.leggauss(POINTS)
NODES = [(float(np.sin(pi * t / 2)), float(w * pi / 2 * np.cos(pi * t / 2) / 2)) for t, w in zip(_T, _W, strict=True)]
SAME = 1e-6
"""Levels and boxes closer than this, in mm, are one."""


def first_come_volumes(bodies: list[Body], low: Vector, high: Vector) -> list[float]:
    """mm3 of each body inside the box and outside all bodies before it in the list: their sum is the union's volume."""
    pieces = [(i, piece) for i, b in enumerate(bodies) for piece in b.pieces()]
    # Pieces of one body may be told apart only where they are known to keep clear of each other.
    owners = [i if bodies[i].disjoint else -1 - n for n, (i, _) in enumerate(pieces)]
    out = [0.0] * len(bodies)
    for (i, _), v in zip(pieces, _first_come([p for _, p in pieces], owners, low, high), strict=True):
        out[i] += v
    return out


def _first_come(bodies: list[Body], owners: list[int], low: Vector, high: Vector) -> list[float]:
    out = [0.0] * len(bodies)
    for cluster in clusters(bodies, owners, low, high):
        if len(cluster) == 1:
            alone = bodies[cluster[0]].volume(low, high)
            if alone is not None:
                out[cluster[0]] = alone
                continue
        for i, v in zip(cluster, _sliced([bodies[i] for i in cluster], low, high), strict=True):
            out[i] = v
    return out


def clusters(bodies: list[Body], owners: list[int], low: Vector, high: Vector) -> list[list[int]]:
    """Groups of bodies (by place in the list) whose boxes overlap inside the box, in list order.

    Bodies of one owner are known to keep clear of each other, whatever their boxes say.
    """
    boxes = [np.array([np.maximum(b.bounds[0], low), np.minimum(b.bounds[1], high)]) for b in bodies]
    live = [i for i, b in enumerate(boxes) if (b[1] - b[0] > SAME).all()]
    parent = {i: i for i in live}

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    if live:
        b = np.array([boxes[i] for i in live])
        flat = shapely.box(b[:, 0, 0], b[:, 0, 1], b[:, 1, 0], b[:, 1, 1])
        first, second = STRtree(flat).query(flat)
        own = np.array([owners[i] for i in live])
        keep = (first < second) & (own[first] != own[second])
        first, second = first[keep], second[keep]
        gap = np.minimum(b[first, 1], b[second, 1]) - np.maximum(b[first, 0], b[second, 0])
        pairs = np.array(live)[np.column_stack([first, second])[(gap > SAME).all(axis=1)]]
        for i, j in pairs[_meet(bodies, boxes, pairs)]:
            a, c = root(int(i)), root(int(j))
            parent[max(a, c)] = min(a, c)
    groups: dict[int, list[int]] = {}
    for i in live:
        groups.setdefault(root(i), []).append(i)
    return [groups[k] for k in sorted(groups)]


def _meet(bodies: list[Body], boxes: list[np.ndarray], pairs: np.ndarray) -> np.ndarray:
    """(n,) False for pairs whose footprints across some axis do not overlap: a ring's box holds what the ring does not."""
    out = np.ones(len(pairs), dtype=bool)
    for k in range(3):
        feet = {i: bodies[i].footprint(k) for i in set(pairs.ravel().tolist())}
        tell = [n for n, (i, j) in enumerate(pairs) if out[n] and (feet[i] is not None or feet[j] is not None)]
        if not tell:
            continue
        i, j = ACROSS[k]
        flat = {
            n: f if f is not None else shapely.box(*boxes[n][0][[i, j]], *boxes[n][1][[i, j]]) for n, f in feet.items()
        }
        first, second = ([flat[n] for n in pairs[tell, side]] for side in (0, 1))
        out[tell] = shapely.area(shapely.intersection(first, second)) > SAME
    return out


def _sliced(bodies: list[Body], low: Vector, high: Vector) -> list[float]:
    k = min(range(3), key=lambda k: _cost(bodies, k))
    i, j = ACROSS[k]
    frame = (low[i], low[j], high[i], high[j])
    inside = [(b.bounds[:, (i, j)] >= (low[i] - SAME, low[j] - SAME)).all() and
              (b.bounds[:, (i, j)] <= (high[i] + SAME, high[j] + SAME)).all() for b in bodies]  # fmt: skip
    levels = _levels(bodies, k, low[k], high[k])
    out = np.zeros(len(bodies))
    for a, b in zip(levels, levels[1:], strict=False):
        middle, h = (a + b) / 2, (b - a) / 2
        active = [n for n, body in enumerate(bodies) if body.bounds[0][k] < middle < body.bounds[1][k]]
        if not active:
            continue
        nodes = [(0.0, 1.0)] if all(_constant(bodies[n], k, middle) for n in active) else NODES
        for x, w in nodes:
            sections = [bodies[n].section(k, middle + h * x) for n in active]
            sections = [
                s if inside[n] else shapely.clip_by_rect(s, *frame) for n, s in zip(active, sections, strict=True)
            ]
            out[active] += 2 * h * w * _fresh_areas(sections)
    return [float(v) for v in out]


def _constant(body: Body, k: int, z: float) -> bool:
    return all(s.constant(k) for s in (*body.adds, *body.fills) if s.bounds[0][k] < z < s.bounds[1][k])


def _cost(bodies: list[Body], k: int) -> tuple[int, int]:
    """Fewest solids with changing sections, then fewest levels."""
    solids = [s for b in bodies for s in (*b.adds, *b.fills)]
    return sum(not s.constant(k) for s in solids), len({round(x, 4) for s in solids for x in s.bounds[:, k]})


def _levels(bodies: list[Body], k: int, low: float, high: float) -> list[float]:
    found = sorted(
        {low, high, *(x for b in bodies for s in (*b.adds, *b.fills) for x in s.critical(k) if low < x < high)}
    )
    out: list[float] = []
    for x in found:
        if not out or x - out[-1] > SAME:
            out.append(x)
    return out


def _fresh_areas(sections: list[BaseGeometry]) -> np.ndarray:
    """Area of each section outside all before it."""
    sections = [s if s.is_valid else s.buffer(0) for s in sections]
    areas = shapely.area(sections)
    if len(sections) < 2:
        return areas
    later, earlier = STRtree(sections).query(sections, predicate="intersects")
    under: dict[int, list[int]] = {}
    for n, m in zip(later, earlier, strict=True):
        if m < n:
            under.setdefault(int(n), []).append(int(m))
    for n, before in under.items():
        covered = shapely.union_all([sections[m] for m in before])
        areas[n] -= shapely.area(shapely.intersection(sections[n], covered))
    return areas
