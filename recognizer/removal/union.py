"""Volume of the union of bodies inside a box, each point counted for the first body that holds it.

A body counts with its own volume, in closed form where there is one, less what it shares with the bodies before it:
that is found on triangle solids, for no more than the boxes have in common.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import STRtree

from recognizer.removal.body import Body
from recognizer.removal.polyhedra import Solids, shared_volume, volume_inside
from recognizer.removal.solids import ACROSS
from shared.units import Vector

NEXT_TO_NOTHING = 1e-6
"""Share of the largest body."""
SAME = 1e-6
"""Levels and boxes closer than this, in mm, are one."""


@dataclass
class Known:
    """What was found before. volumes: by the ids of a piece and of those before it, which are kept so that no id is used
    twice; solids: by the id of a piece.
    """

    volumes: dict[tuple[int, ...], tuple[list[Body], float]] = field(default_factory=dict)
    solids: Solids = field(default_factory=dict)


def first_come_volumes(bodies: list[Body], low: Vector, high: Vector, known: Known | None = None) -> list[float]:
    """mm3 of each body inside the box and outside all bodies before it in the list: their sum is the union's volume.

    known: keeps what was found for the next call with the same box and some of the same bodies.
    """
    known = known or Known()
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
        if key not in known.volumes:
            known.volumes[key] = used, _outside(used, volume, box, known.solids)
        out.append(known.volumes[key][1])
    return out


def _outside(used: list[Body], volume: float | None, box: np.ndarray, solids: Solids) -> float:
    """mm3 of the first body inside its box and outside the others."""
    first, *others = used
    if volume is None or (first.fills and others):  # where bodies meet, what is left standing may reach into others
        volume = volume_inside(first, box, solids)
    return max(0.0, volume - shared_volume(first, others, box, solids)) if others else volume


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
