"""Volume of the union of bodies inside a box, each point counted for the first body that holds it.

A body counts with its own volume, in closed form where there is one, less what it shares with the bodies before it.
The share is sliced across one axis, chosen for each body, over no more than the boxes have in common: areas are
integrated between the levels where a body begins, ends or turns a corner; one slice where all sections are constant
there, else Gauss-Legendre points after z = m + h sin(pi t / 2), which keeps the square roots at a cylinder's flanks
smooth. Intervals that can hold next to nothing get fewer points.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from math import pi

import numpy as np
import shapely
from shapely import STRtree
from shapely.geometry.base import BaseGeometry

from recognizer.removal.body import Body
from recognizer.removal.solids import ACROSS, FLAT, Prism
from shared.units import Vector

Nodes = list[tuple[float, float]]


def _nodes(points: int) -> Nodes:
    t, w = np.polynomial.legendre.leggauss(points)
    return [(float(np.sin(pi * a / 2)), float(b * pi / 2 * np.cos(pi * a / 2) / 2)) for a, b in zip(t, w, strict=True)]


MIDDLE: Nodes = [(0.0, 1.0)]
NODES = {n: _nodes(n) for n in (2, 3, 6)}
ENOUGH = ((2e-6, MIDDLE), (5e-5, NODES[2]), (5e-4, NODES[3]))
"""Points for an interval that can hold no more than this share of the largest body."""
MOST_LEVELS = 40
"""Levels at which one body is sliced at most."""
NEXT_TO_NOTHING = 1e-6
"""Share of the largest body."""
SAME = 1e-6
"""Levels and boxes closer than this, in mm, are one."""


Known = dict[tuple[int, ...], tuple[list[Body], float]]
"""Volumes found before, by the ids of a piece and of those before it; these are kept so that no id is used twice."""


def first_come_volumes(bodies: list[Body], low: Vector, high: Vector, known: Known | None = None) -> list[float]:
    """mm3 of each body inside the box and outside all bodies before it in the list: their sum is the union's volume.

    known: keeps what was found for the next call with the same box and some of the same bodies.
    """
    known = {} if known is None else known
    pieces = [(i, piece) for i, b in enumerate(bodies) for piece in b.pieces()]
    # Pieces of one body may be told apart only where they are known to keep clear of each other.
    owners = [i if bodies[i].disjoint else -1 - n for n, (i, _) in enumerate(pieces)]
    out = [0.0] * len(bodies)
    for (i, _), v in zip(pieces, _first_come([p for _, p in pieces], owners, low, high, known), strict=True):
        out[i] += v
    return out


def _first_come(bodies: list[Body], owners: list[int], low: Vector, high: Vector, known: Known) -> list[float]:
    boxes = inner_boxes(bodies, low, high)
    before = earlier(bodies, owners, boxes)
    alone = [b.volume(low, high) for b in bodies]
    worth = max((v for v in alone if v is not None), default=0.0)
    out: list[float] = []
    for n, (body, box, volume) in enumerate(zip(bodies, boxes, alone, strict=True)):
        if not (box[1] - box[0] > SAME).all():
            out.append(0.0)
            continue
        # What lies wholly in bodies before it hides nothing that these do not.
        others = [m for m in before[n] if out[m] > NEXT_TO_NOTHING * worth]
        used = [body, *(bodies[m] for m in others)]
        key = tuple(id(b) for b in used)
        if key not in known:
            known[key] = used, _outside(used, volume, box, [boxes[m] for m in others], worth)
        out.append(known[key][1])
    return out


def _outside(used: list[Body], volume: float | None, box: np.ndarray, boxes: list[np.ndarray], worth: float) -> float:
    """mm3 of the first body inside its box and outside the others."""
    if volume is None or (used[0].fills and boxes):  # where bodies meet, what is left standing may reach into others
        volume = _sliced(used[:1], box, [], worth)
    if boxes:
        low = np.maximum(box[0], np.min([b[0] for b in boxes], axis=0))
        high = np.minimum(box[1], np.max([b[1] for b in boxes], axis=0))
        volume -= _sliced(used, np.array([low, high]), boxes, worth)
    return max(0.0, float(volume))


def inner_boxes(bodies: list[Body], low: Vector, high: Vector) -> list[np.ndarray]:
    """(2, 3) each: the bodies' boxes inside the box."""
    return [np.array([np.maximum(b.bounds[0], low), np.minimum(b.bounds[1], high)]) for b in bodies]


def earlier(bodies: list[Body], owners: list[int], boxes: list[np.ndarray]) -> list[list[int]]:
    """For each body those before it (by place in the list) that it may overlap inside the box.

    Bodies of one owner are known to keep clear of each other, whatever their boxes say.
    """
    out: list[list[int]] = [[] for _ in bodies]
    live = [i for i, b in enumerate(boxes) if (b[1] - b[0] > SAME).all()]
    if len(live) < 2:
        return out
    b = np.array([boxes[i] for i in live])
    flat = shapely.box(b[:, 0, 0], b[:, 0, 1], b[:, 1, 0], b[:, 1, 1])
    first, second = STRtree(flat).query(flat)
    own = np.array([owners[i] for i in live])
    keep = (first < second) & (own[first] != own[second])
    first, second = first[keep], second[keep]
    gap = np.minimum(b[first, 1], b[second, 1]) - np.maximum(b[first, 0], b[second, 0])
    pairs = np.array(live)[np.column_stack([first, second])[(gap > SAME).all(axis=1)]]
    for i, j in pairs[_meet(bodies, boxes, pairs)]:
        out[j].append(int(i))
    return [sorted(m) for m in out]


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


def _sliced(bodies: list[Body], box: np.ndarray, boxes: list[np.ndarray], worth: float) -> float:
    """mm3 inside the box of the first body, or, where there are more, of what it shares with the others."""
    k = min(range(3), key=lambda k: _cost(bodies, k))
    i, j = ACROSS[k]
    levels = _few(_levels(bodies, boxes, k, box[0][k], box[1][k]))
    area = float(np.prod(box[1][[i, j]] - box[0][[i, j]]))
    total = 0.0
    same: dict[tuple, float] = {}  # type: ignore[type-arg]
    standing: Standing = {}
    for a, b in zip(levels, levels[1:], strict=False):
        middle, h = (a + b) / 2, (b - a) / 2
        active = tuple(n for n, o in enumerate(boxes, 1) if o[0][k] < middle < o[1][k])
        if boxes and not active:
            continue
        now = [bodies[0], *(bodies[n] for n in active)]
        upright = all(_upright(s, k) for body in now for s in (*body.adds, *body.fills))
        key = (active, *(n for n, s in enumerate(_solids(now)) if s.bounds[0][k] < middle < s.bounds[1][k]))
        if upright and key in same:
            total += 2 * h * same[key]
            continue
        nodes = MIDDLE if upright or all(_constant(o, k, middle) for o in now) else _enough(2 * h * area, worth)
        fixed = _standing(now[1:], k, middle, standing)
        moving = [b for b in now[1:] if not _stands(b, k)]
        at = partial(_area, now[0], fixed, moving, k, box)
        mean = sum(w * at(middle + h * x) for x, w in nodes)
        if upright:
            same[key] = mean
        total += 2 * h * mean
    return total


def _few(levels: list[float]) -> list[float]:
    """Levels without those that lie nearest to the one before, where there are more than the budget allows.

    A part of hundreds of bodies that all meet would else be sliced tens of thousands of times.
    """
    if len(levels) <= MOST_LEVELS:
        return levels
    inner = sorted(range(1, len(levels) - 1), key=lambda n: (levels[n] - levels[n - 1], n))
    dropped = set(inner[: len(levels) - MOST_LEVELS])
    return [x for n, x in enumerate(levels) if n not in dropped]


def _enough(most: float, worth: float) -> Nodes:
    return next((nodes for share, nodes in ENOUGH if most < share * worth), NODES[6])


Standing = dict[tuple[int, ...], BaseGeometry]
"""Unions of sections that are the same at every level, by the ids of their bodies."""


def _stands(body: Body, k: int) -> bool:
    """One upright prism: its section across axis k is the same from end to end."""
    return not body.fills and len(body.adds) == 1 and _upright(body.adds[0], k)


def _standing(bodies: list[Body], k: int, z: float, known: Standing) -> BaseGeometry | None:
    """Union of the sections of all upright bodies about a level, made once for all levels between the same bodies; None
    where there are no bodies at all.
    """
    if not bodies:
        return None
    live = [b for b in bodies if _stands(b, k) and b.bounds[0][k] < z < b.bounds[1][k]]
    key = tuple(id(b) for b in live)
    if key not in known:
        known[key] = shapely.union_all([_sound(b.section(k, z)) for b in live])
    return known[key]


def _area(first: Body, fixed: BaseGeometry | None, moving: list[Body], k: int, box: np.ndarray, z: float) -> float:
    """Area at a level of the first body inside the box, or, where there are more, of what it shares with the others.

    fixed: the union of those whose sections do not change; moving: the others.
    """
    i, j = ACROSS[k]
    own = _sound(first.section(k, z))
    reach = first.bounds[:, (i, j)]
    if (reach[0] < box[0][[i, j]] - SAME).any() or (reach[1] > box[1][[i, j]] + SAME).any():
        own = _inside(own, (box[0][i], box[0][j], box[1][i], box[1][j]))
    if own.is_empty or (fixed is None and not moving):
        return float(own.area)
    x0, y0, x1, y1 = own.bounds
    near = [b for b in moving if (b.bounds[0][[i, j]] < (x1, y1)).all() and (b.bounds[1][[i, j]] > (x0, y0)).all()]
    others = [_sound(s) for b in near for s in b.sections(k, z)] + ([] if fixed is None else [fixed])
    both = shapely.intersection(own, np.array(others, dtype=object))
    size = shapely.area(both)
    both = both[size > 0]
    return float(size.sum()) if len(both) < 2 else float(shapely.union_all(both).area)


def _inside(section: BaseGeometry, box: tuple[float, float, float, float]) -> BaseGeometry:
    try:
        return shapely.clip_by_rect(section, *box)
    except shapely.GEOSException:  # a ring that the clipping leaves less than three corners of
        return shapely.intersection(section, shapely.box(*box))


def _sound(section: BaseGeometry) -> BaseGeometry:
    return section if section.is_valid else section.buffer(0)


def _solids(bodies: Iterable[Body]) -> list:  # type: ignore[type-arg]
    return [s for b in bodies for s in (*b.adds, *b.fills)]


def _upright(solid: object, k: int) -> bool:
    """Sections across axis k are one and the same wherever the solid is."""
    return isinstance(solid, Prism) and not solid.halves and abs(solid.d[k]) > 1 - FLAT


def _constant(body: Body, k: int, z: float) -> bool:
    return all(s.constant(k) for s in (*body.adds, *body.fills) if s.bounds[0][k] < z < s.bounds[1][k])


def _cost(bodies: list[Body], k: int) -> tuple[int, float, int]:
    """Fewest solids with changing sections, then those that lean least from the axis, then fewest levels.

    Across the axis that a leaning prism nearly follows, its section is whole and the same but for its ends.
    """
    solids = _solids(bodies)
    lean = sum(1 - abs(s.d[k]) for s in solids if isinstance(s, Prism) and FLAT < abs(s.d[k]) < 1 - FLAT)
    return (
        sum(not s.constant(k) for s in solids),
        round(lean, 3),
        len({round(x, 4) for s in solids for x in s.bounds[:, k].tolist()}),
    )


def _levels(bodies: list[Body], boxes: list[np.ndarray], k: int, low: float, high: float) -> list[float]:
    ends = [float(x) for b in boxes for x in b[:, k]]
    ends += [c for s in _solids(bodies) for c in s.critical(k)]
    found = sorted({low, high, *(x for x in ends if low < x < high)})
    out: list[float] = []
    for x in found:
        if not out or x - out[-1] > SAME:
            out.append(x)
    return out
