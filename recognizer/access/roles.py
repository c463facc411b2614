"""Which edges can stop a cutter that comes along a direction: those on the outline of the material above some level.

The material above a level, seen along the direction, is bounded by the cuts through faces that look up at that level, and
by edges over which the part turns down or falls away upright. So an edge does not count

- where an upright face rises from it: that face's upper edge stands in the same line, and higher;
- between two faces that look down, or under one: material covers both its sides.

Between two faces that look up an edge is the cut at its own level, and at no lower one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from recognizer.snapshot import Edge, Snapshot

if TYPE_CHECKING:
    from recognizer.access.laid import Laid

Array = np.ndarray
UPRIGHT = 1e-4
"""Cosines below this are upright (0.006 degrees)."""
NONE, ALWAYS, ROW = 0, 1, 2
"""Stops nothing; stops every tip below it; only tips of its own row of cuts."""


@dataclass(frozen=True)
class Sides:
    """The two faces of each chord: index (n, 2), outward normals (n, 2, 3) in its middle, nan where unknown, and the way
    into each face.
    """

    face: Array
    normal: Array
    inward: Array


def sides_of(snapshot: Snapshot, edges: list[Edge], a: Array, b: Array, owner: Array) -> Sides:
    """Sides of chords a (n, 3) to b, in the order of `edges`; owner: (n,) place of each chord's edge among these."""
    n = len(a)
    faces = np.zeros((n, 2), int)
    normal, inward = np.full((n, 2, 3), np.nan), np.full((n, 2, 3), np.nan)
    place = {e.index: i for i, e in enumerate(edges)}
    starts = np.searchsorted(owner, np.arange(len(edges) + 1))
    middle, way = (a + b) / 2, b - a
    used = np.zeros(len(edges), int)
    for face in snapshot.faces:
        rows, slots, signs = [], [], []
        for loop in face.loops:
            for e, forward in loop:
                i = place.get(e)
                if i is None or used[i] > 1:
                    continue
                count = starts[i + 1] - starts[i]
                rows.append(np.arange(starts[i], starts[i + 1]))
                slots.append(np.full(count, used[i]))
                signs.append(np.full(count, 1.0 if forward else -1.0))
                used[i] += 1
        if rows:
            k, slot, sign = np.concatenate(rows), np.concatenate(slots), np.concatenate(signs)
            found = face.surface.normals_at(middle[k])
            faces[k, slot] = face.index
            normal[k, slot] = found
            inward[k, slot] = np.cross(found, way[k] * sign[:, None])
    return Sides(faces, normal, inward)


def rises_of(laid: Laid) -> Array:
    """(n, 2) how steeply each chord's two faces rise from it along the direction, -1 to 1; nan where unknown."""
    inward = laid.mesh.sides.inward
    size = np.maximum(np.sqrt((inward**2).sum(axis=2)), 1e-12)
    return laid.along(inward.reshape(-1, 3)).reshape(-1, 2) / laid.each(size)


def roles_of(laid: Laid, upright: Array, rise: Array) -> Array:
    """(n,) NONE, ALWAYS or ROW for each chord of all tiles; upright: which faces stand along their direction as a whole; rise:
    see `rises_of`.
    """
    sides = laid.mesh.sides
    cosine = laid.along(sides.normal.reshape(-1, 3)).reshape(-1, 2)
    stands = upright[laid.named(sides.face, laid.part_faces)]
    up, down = (cosine > UPRIGHT) & ~stands, (cosine < -UPRIGHT) & ~stands
    known = (up | down | stands).all(axis=1)
    covered = down.all(axis=1) | (down & (stands & (rise < -1e-3))[:, ::-1]).any(axis=1)
    role = np.full(len(cosine), ALWAYS)
    role[up.all(axis=1)] = ROW
    role[known & ((stands & (rise > 1e-3)).any(axis=1) | covered)] = NONE
    return role
