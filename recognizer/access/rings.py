"""Outlines of plane faces with their arcs in fine chords, and their projections as polygons, many at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from recognizer.access.near import counting
from recognizer.snapshot import Snapshot

if TYPE_CHECKING:
    from recognizer.access.laid import Laid

Array = np.ndarray
FINE = 5
"""Chords of arcs are cut into so many: 2 degrees."""


@dataclass(frozen=True)
class Rings:
    """Closed polylines: ring r has the points first[r] to first[r + 1]; face f the rings of[f] to of[f + 1], the outer one first."""

    points: Array
    first: Array
    of: Array

    def of_face(self, face: int) -> list[Array]:
        """The polylines (n, 3) of a face."""
        return [self.points[self.first[r] : self.first[r + 1]] for r in range(self.of[face], self.of[face + 1])]


def rings_of(snapshot: Snapshot) -> Rings:
    """The rings of all plane faces; none on others."""
    fine = _fine_edges(snapshot)
    runs: list[Array] = []
    count, of = [0], [0]
    for f in snapshot.faces:
        for loop in f.loops if f.kind == "plane" else ():
            own = [fine[e][:-1] if forward else fine[e][:0:-1] for e, forward in loop]
            size = sum(map(len, own))
            if size > 2:
                runs += own
                count.append(size)
        of.append(len(count) - 1)
    points = np.concatenate(runs) if runs else np.empty((0, 3))
    return Rings(points, np.cumsum(count), np.array(of))


def _fine_edges(snapshot: Snapshot) -> list[Array]:
    """Each edge's polyline (n, 3), arcs in fine chords."""
    edges = snapshot.edges
    out = [np.array(e.points).reshape(-1, 3) for e in edges]
    arcs = [e.index for e in edges if e.curve == "circle" and e.centre is not None and len(e.points) > 1]
    if not arcs:
        return out
    count = np.array([len(out[i]) - 1 for i in arcs])
    a = np.concatenate([out[i][:-1] for i in arcs])[:, None]
    b = np.concatenate([out[i][1:] for i in arcs])[:, None]
    c = np.repeat(np.array([edges[i].centre for i in arcs]), count, axis=0)[:, None]
    radius = np.repeat([edges[i].radius for i in arcs], count)[:, None, None]
    t = (np.arange(FINE) / FINE)[None, :, None]
    mid = a * (1 - t) + b * t - c
    size = np.sqrt((mid**2).sum(axis=2, keepdims=True))
    made = (c + mid / np.where(size > 0, size, 1.0) * radius).reshape(-1, 3)
    for i, own in zip(arcs, np.split(made, np.cumsum(count * FINE)[:-1]), strict=True):
        out[i] = np.concatenate([own, out[i][-1:]])
    return out


def polygons_of(laid: Laid, names: Array) -> Array:
    """(n,) projections of plane faces, each in its tile."""
    out = np.full(len(names), shapely.Polygon(), object)
    if not len(names):
        return out
    rings, face = laid.mesh.rings, names % laid.part_faces
    many = rings.of[face + 1] - rings.of[face]
    owner = np.repeat(np.arange(len(names)), many)
    ring = np.repeat(rings.of[face], many) + counting(many)
    length = rings.first[ring + 1] - rings.first[ring]
    point = np.repeat(rings.first[ring], length) + counting(length)
    k = np.repeat((names // laid.part_faces)[owner], length)
    p, axes = rings.points[point], laid.axes[k]
    flat = p[:, :1] * axes[:, 0, :2] + p[:, 1:2] * axes[:, 1, :2] + p[:, 2:] * axes[:, 2, :2] + laid.shift[k, :2]
    closed = shapely.linearrings(flat, indices=np.repeat(np.arange(len(ring)), length))
    shapely.polygons(closed, indices=owner, out=out)
    bad = ~shapely.is_valid(out)
    if bad.any():
        out[bad] = shapely.buffer(out[bad], 0)
    return out
