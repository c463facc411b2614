"""Hollows that a direction across their axis cannot look into: every ray from their wall ends in the wall opposite.

So bores and bored cones that run all the way round, and the flat bottoms in them, need no more than a word from there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from recognizer.graph import connected
from recognizer.snapshot import Edge, Snapshot
from recognizer.vector import dot

if TYPE_CHECKING:
    from recognizer.access.laid import Laid

Array = np.ndarray
ACROSS = 1e-7
"""Largest cosine of an axis with a direction across it."""
SAME_MM = 1e-4
TURN_DEG = 359.5


def bored_of(snapshot: Snapshot) -> tuple[Array, Array, Array]:
    """(faces of whole bores and of bottoms in them, their axes (n, 3), the wall before each: the bore's own)."""
    hollow = {f.index for f in snapshot.faces if f.kind in ("cylinder", "cone") and f.surface.hollow}
    whole: set[int] = set()
    for group in _joined(snapshot, hollow):
        if _goes_round(snapshot, group):
            whole.update(group)
    found = {i: snapshot.faces[i].surface.axis for i in whole}
    wall = {i: i for i in whole}
    for f in snapshot.faces:
        if f.kind == "plane" and f.loops and _is_bottom(snapshot, f.index, [e for e, _ in f.loops[0]], whole):
            found[f.index] = f.surface.axis
            wall[f.index] = next(i for i in snapshot.edges[f.loops[0][0][0]].faces if i in whole)
    names = sorted(found)
    axes = np.array([found[i] for i in names]).reshape(-1, 3)
    return np.array(names, int), axes, np.array([wall[i] for i in names], int)


def _joined(snapshot: Snapshot, hollow: set[int]) -> list[list[int]]:
    """Groups of hollow faces of one surface that meet in straight edges."""
    lines = (e.faces for e in snapshot.edges if e.curve == "line" and len(e.faces) == 2)
    return connected(hollow, ((i, j) for i, j in lines if i in hollow and j in hollow and _same(snapshot, i, j)))


def _same(snapshot: Snapshot, i: int, j: int) -> bool:
    """Whether two faces lie on one cylinder or cone, as far as two faces that meet can tell."""
    one, two = snapshot.faces[i].surface, snapshot.faces[j].surface
    if one.kind != two.kind or abs(abs(dot(one.axis, two.axis)) - 1) > 1e-9:
        return False
    rel = np.array(one.origin) - np.array(two.origin)
    off = rel - np.array(two.axis) * (rel @ np.array(two.axis))
    same = one.kind == "cone" or abs(one.radius - two.radius) < SAME_MM
    return same and float(np.linalg.norm(off)) < SAME_MM


def _goes_round(snapshot: Snapshot, group: list[int]) -> bool:
    """Whether faces cover a whole turn between two circles, or a circle and a tip."""
    if sum(snapshot.faces[i].span for i in group) < TURN_DEG:
        return False
    s, own = snapshot.faces[group[0]].surface, set(group)
    levels = set()
    for k in {e for i in group for e in snapshot.face_edges[i]}:
        e = snapshot.edges[k]
        if e.degenerate or own.issuperset(e.faces):
            continue
        if not _lies_across(e, s.axis):
            return False
        levels.add(round(dot(e.points[0], s.axis) / SAME_MM))
    return len(levels) <= 2


def _lies_across(edge: Edge, axis: tuple[float, float, float]) -> bool:
    return edge.curve == "circle" and edge.axis is not None and abs(abs(dot(edge.axis, axis)) - 1) < 1e-9


def _is_bottom(snapshot: Snapshot, face: int, outer: list[int], whole: set[int]) -> bool:
    """Whether a plane face lies square at the foot of whole bores, all round."""
    for k in outer:
        e = snapshot.edges[k]
        others = [i for i in e.faces if i != face]
        if e.bend >= 0 or len(others) != 1 or others[0] not in whole:
            return False
        if abs(abs(dot(snapshot.faces[others[0]].surface.axis, snapshot.faces[face].surface.axis)) - 1) > 1e-9:
            return False
    return bool(outer)


def buried(laid: Laid) -> Array:
    """(faces,) of faces that no ray leaves along their direction, by this alone, the face in the way; -1 of others."""
    names, axes, walls = laid.mesh.bored
    out = np.full(laid.faces, -1)
    across = np.abs(laid.along(axes)) < ACROSS
    out[laid.named(names, laid.part_faces)[across]] = laid.named(walls, laid.part_faces)[across]
    return out
