"""The part's edges and faces as arrays, gathered once for all directions.

Chords are straight pieces of the edges' polylines; pieces are plane faces and the facets of curved ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from recognizer.access.buried import bored_of
from recognizer.access.rings import Rings, rings_of
from recognizer.access.roles import Sides, sides_of
from recognizer.snapshot import Edge, Snapshot
from shared.units import Vector

Array = np.ndarray
MOST_TURN_RAD = 0.8
"""A chord over which its curve seems to turn by more stands beside a corner of the curve."""
REAL_MM2 = 1e-9
"""Facets smaller than this are left out."""


@dataclass(frozen=True)
class Chords:
    """Straight pieces of edges: ends (n, 3), edge index, kind (0 line, 1 circle, 2 other), deviation in mm of the curve."""

    a: Array
    b: Array
    edge: Array
    kind: Array
    deviation: Array


@dataclass(frozen=True)
class Circles:
    """Circular edges: centre and axis (n, 3), radius, edge index; ends (n, 3); a point in the middle (n, 3)."""

    centre: Array
    axis: Array
    radius: Array
    edge: Array
    start: Array
    end: Array
    middle: Array
    full: Array


@dataclass(frozen=True)
class Pieces:
    """Flat pieces of faces: face (n,), outward normal (n, 3), area (n,), deviation of the true face in mm (n,).

    side_piece (m,), side_a and side_b (m, 3): the sides of every piece; side_off (m,): how far the chord of a plane face's
    bent rim lies off it. curved: a facet, not a plane face. inner (k, 2): pairs of sides where two facets of one face meet.
    """

    face: Array
    normal: Array
    area: Array
    deviation: Array
    curved: Array
    side_piece: Array
    side_a: Array
    side_b: Array
    side_off: Array
    inner: Array


@dataclass(frozen=True)
class Mesh:
    """All of it. `edge_faces`: (n, 2) the two faces of each edge; `sides`: those of each chord."""

    snapshot: Snapshot
    chords: Chords
    circles: Circles
    pieces: Pieces
    edge_faces: Array
    sides: Sides

    @cached_property
    def bored(self) -> tuple[Array, Array, Array]:
        """Faces of whole bores and of bottoms in them, their axes, and the walls before them."""
        return bored_of(self.snapshot)

    @cached_property
    def free_forms(self) -> tuple[Array, Array]:
        """(n,) pieces that are facets of free forms, and (n, 3, 3) the form's own normals at their corners; nan: unknown."""
        given = self.snapshot.normals
        parts, normals = [np.empty(0, int)], [np.empty((0, 3, 3))]
        for face, t in self.snapshot.facet_arrays.items():
            if given.get(face):
                kept = facet_normals(t)[1] > REAL_MM2
                parts.append(np.flatnonzero(self.pieces.curved & (self.pieces.face == face)))
                normals.append(np.array(given[face]).reshape(-1, 3, 3)[kept])
        found = np.concatenate(normals)
        found[(found == 0).all(axis=2)] = np.nan
        return np.concatenate(parts), found

    @cached_property
    def rings(self) -> Rings:
        """Outlines of plane faces."""
        return rings_of(self.snapshot)


def mesh_of(snapshot: Snapshot) -> Mesh:
    """The arrays of a snapshot."""
    edges = [e for e in snapshot.edges if not e.degenerate]
    chords = _chords(edges)
    deviation = _face_deviations(snapshot)
    faces = np.array([(e.faces[0], e.faces[-1]) if e.faces else (0, 0) for e in snapshot.edges]).reshape(-1, 2)
    place = np.full(len(snapshot.edges), -1)
    place[[e.index for e in edges]] = np.arange(len(edges))
    sides = sides_of(snapshot, edges, chords.a, chords.b, place[chords.edge])
    return Mesh(snapshot, chords, _circles(edges), _pieces(snapshot, deviation, chords), faces, sides)


def _chords(edges: list[Edge]) -> Chords:
    if not edges:
        empty = np.empty((0, 3))
        return Chords(empty, empty, np.empty(0, int), np.empty(0, int), np.empty(0))
    counts = np.array([len(e.points) for e in edges])
    points = np.array([p for e in edges for p in e.points])
    starts = np.ones(len(points), bool)
    starts[np.cumsum(counts) - 1] = False
    k = np.flatnonzero(starts)
    owner = np.repeat(np.arange(len(edges)), counts - 1)
    kinds = np.array([0 if e.curve == "line" else 1 if e.curve == "circle" and e.centre else 2 for e in edges])
    a, b = points[k], points[k + 1]
    length = np.linalg.norm(b - a, axis=1)
    # A chord's rise over an arc that turns by a: L a / 8.
    turn = np.array(
        [step / max(e.radius, 1e-9) if e.radius else np.nan for e, step in zip(edges, _steps(edges), strict=True)]
    )
    turn = np.where(np.isnan(turn[owner]), _turns(b - a, owner), turn[owner])
    deviation = np.where(kinds[owner] == 0, 0.0, length * np.minimum(turn, MOST_TURN_RAD) / 8)
    return Chords(a, b, np.array([e.index for e in edges])[owner], kinds[owner], deviation)


def _turns(way: Array, owner: Array) -> Array:
    """(n,) how far free curves turn along their chords, rad: the larger angle with the chords before and after, and a little
    for bends that grow along it.
    """
    unit = way / np.maximum(np.linalg.norm(way, axis=1), 1e-12)[:, None]
    angle = np.arccos(np.clip((unit[1:] * unit[:-1]).sum(axis=1), -1.0, 1.0))
    angle = np.where(owner[1:] == owner[:-1], angle, 0.0)
    none = np.zeros(min(1, len(way)))
    return 1.1 * np.maximum(np.concatenate([none, angle]), np.concatenate([angle, none])) + 1e-3


def _steps(edges: list[Edge]) -> list[float]:
    return [e.length / max(1, len(e.points) - 1) for e in edges]


def _circles(edges: list[Edge]) -> Circles:
    round_ = [e for e in edges if e.curve == "circle" and e.centre is not None and e.axis is not None]
    vectors = [
        np.array([getattr(e, name) for e in round_]).reshape(-1, 3)
        for name in ("centre", "axis", "start", "end", "middle")
    ]
    radius = np.array([e.radius for e in round_])
    full = np.linalg.norm(vectors[2] - vectors[3], axis=1) < 1e-4
    index = np.array([e.index for e in round_], dtype=int)
    return Circles(vectors[0], vectors[1], radius, index, vectors[2], vectors[3], vectors[4], full)


def _face_deviations(snapshot: Snapshot) -> Array:
    """How far the facets of each face lie off it: edge length times half the angle between neighbours, over 4."""
    out = np.zeros(len(snapshot.faces))
    for f, t in snapshot.facet_arrays.items():
        s = snapshot.faces[f].surface
        if not len(t):
            continue
        if s.kind in ("cylinder", "sphere", "torus", "cone"):
            radius = s.radius if s.kind != "cone" else _largest_radius(t, s)
            out[f] = radius * (1 - np.cos(0.1))
        else:
            out[f] = 0.025 * float(np.median(np.linalg.norm(t[:, 1] - t[:, 0], axis=1)))
    return out


def _largest_radius(triangles: Array, s: object) -> float:
    rel = triangles.reshape(-1, 3) - np.array(s.origin)  # type: ignore[attr-defined]
    axis = np.array(s.axis)  # type: ignore[attr-defined]
    return float(np.linalg.norm(rel - np.outer(rel @ axis, axis), axis=1).max())


def _pieces(snapshot: Snapshot, deviation: Array, chords: Chords) -> Pieces:
    face, normal, area, sides = [], [], [], []
    a: list[Vector] = []
    b: list[Vector] = []
    chord: list[int] = []
    first = np.searchsorted(chords.edge, np.arange(len(snapshot.edges))).tolist()
    count = 0
    for f in snapshot.faces:
        if f.kind != "plane":
            continue
        for loop in f.loops:
            for e, _ in loop:
                p = snapshot.edges[e].points
                a.extend(p[:-1])
                b.extend(p[1:])
                chord.extend(range(first[e], first[e] + len(p) - 1))
                sides.extend([count] * (len(p) - 1))
        face.append(f.index)
        normal.append(f.surface.axis)
        area.append(f.area)
        count += 1
    flat = (np.array(face, int), np.array(normal).reshape(-1, 3), np.array(area), np.array(sides, int))
    corners = (np.array(a).reshape(-1, 3), np.array(b).reshape(-1, 3))
    index, t = facets_of(snapshot)
    n, size = facet_normals(t)
    real = size > REAL_MM2
    index, t, n, size = index[real], t[real], n[real], size[real]
    side = np.repeat(np.arange(len(t)), 3) + count
    return Pieces(
        np.concatenate([flat[0], index]),
        np.concatenate([flat[1], n]),
        np.concatenate([flat[2], size]),
        deviation[np.concatenate([flat[0], index])],
        np.repeat([False, True], [count, len(t)]),
        np.concatenate([flat[3], side]),
        np.concatenate([corners[0], t.reshape(-1, 3)]),
        np.concatenate([corners[1], t[:, [1, 2, 0]].reshape(-1, 3)]),
        np.concatenate([chords.deviation[chord], np.zeros(3 * len(t))]),
        _inner_sides(index, t, len(flat[3])),
    )


def _inner_sides(index: Array, t: Array, first: int) -> Array:
    """(k, 2) sides of facets of one face that are the same line; `first` is the number of sides before the facets'."""
    if not len(t):
        return np.empty((0, 2), int)
    middle = np.round((t + t[:, [1, 2, 0]]).reshape(-1, 3) * 5e3).astype(np.int64)
    face = np.repeat(index, 3)
    order = np.lexsort((middle[:, 2], middle[:, 1], middle[:, 0], face))
    same = (np.diff(middle[order], axis=0) == 0).all(axis=1) & (np.diff(face[order]) == 0)
    k = np.flatnonzero(same)
    return np.stack([order[k], order[k + 1]], axis=1) + first


def facets_of(snapshot: Snapshot) -> tuple[Array, Array]:
    """(face index, (n, 3, 3) corners) of all facets of curved faces."""
    groups = [(f, t) for f, t in snapshot.facet_arrays.items() if len(t)]
    if not groups:
        return np.empty(0, int), np.empty((0, 3, 3))
    index = np.repeat([f for f, _ in groups], [len(t) for _, t in groups])
    return index, np.concatenate([t for _, t in groups])


def facet_normals(t: Array) -> tuple[Array, Array]:
    """Unit normals (n, 3) and areas (n,) of triangles."""
    n = np.cross(t[:, 1] - t[:, 0], t[:, 2] - t[:, 0])
    size = np.linalg.norm(n, axis=1)
    return n / np.where(size > 0, size, 1.0)[:, None], size / 2
