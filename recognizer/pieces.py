"""Whether a solid is one piece of material: what touches in an edge or a corner only, or lies apart, is another piece.

Faces hang together over the material: where two meet at an edge they do, where four meet (two pockets, or two pieces,
that touch there) those do that bound the same wedge of material. Each set of faces that hang together encloses material
(positive volume) or a hollow (negative); a sound solid has one of the first kind, and the second lie within it.
"""

from __future__ import annotations

from collections import defaultdict
from math import atan2, pi

import numpy as np

from recognizer.graph import connected
from recognizer.snapshot import Edge, Snapshot
from recognizer.vector import cross, dot, scale, sub, unit
from shared.errors import UnsoundSolid
from shared.units import Vector


def check_one_piece(snapshot: Snapshot) -> None:
    """Raises UnsoundSolid where the solid's faces enclose more than one piece of material, or a hollow beside it."""
    sets = _hanging_together(snapshot)
    if len(sets) < 2:
        return
    pieces = [s for s in sets if _volume(snapshot, s) > 0]
    if len(pieces) > 1:
        raise UnsoundSolid(
            f"The solid falls into {len(pieces)} pieces that lie apart or touch in an edge or a corner only.",
            "Join the pieces, or export each as a part of its own.",
            f"pieces with face {', face '.join(str(min(s)) for s in pieces[:5])}",
        )
    for hollow in (s for s in sets if s not in pieces):
        if not pieces or not _lies_within(snapshot, hollow, pieces[0]):
            raise UnsoundSolid(
                "A hollow of the solid lies outside its material.",
                "Repair the solid in the modelling program and export it again.",
                f"face {min(hollow)}",
            )


def _hanging_together(snapshot: Snapshot) -> list[list[int]]:
    """Faces by the sets that hang together over material, each in order."""
    uses: dict[int, list[tuple[int, bool]]] = defaultdict(list)
    for face in snapshot.faces:
        for loop in face.loops:
            for e, forward in loop:
                uses[e].append((face.index, forward))
    ties = (tie for e, of in uses.items() for tie in _across_material(snapshot, snapshot.edges[e], of))
    return connected(range(len(snapshot.faces)), ties)


def _across_material(snapshot: Snapshot, edge: Edge, uses: list[tuple[int, bool]]) -> list[tuple[int, int]]:
    """Pairs of an edge's faces with material between them; all of them together where that cannot be told."""
    everyone = [(uses[0][0], f) for f, _ in uses]
    if len(uses) < 4 or edge.degenerate or len(edge.points) < 2:
        return everyone
    k = len(edge.points) // 2
    at, way = edge.points[k], unit(sub(edge.points[k], edge.points[k - 1]))
    if len(edge.points) == 2:
        at = edge.middle
    turned = [_turned(snapshot, f, forward, at, way) for f, forward in uses]
    if any(t is None for t in turned):
        return everyone
    first = turned[0]
    assert first is not None
    order = sorted((_angle(first[0], t[0], way), f, t[1]) for (f, _), t in zip(uses, turned, strict=True) if t)
    return [
        (f, order[(n + (1 if ahead else -1)) % len(order)][1]) for n, (_, f, ahead) in enumerate(order)
    ]  # each face and the next one round the edge on its own side of the material


def _turned(snapshot: Snapshot, face: int, forward: bool, at: Vector, way: Vector) -> tuple[Vector, bool] | None:
    """Direction square to an edge into a face, and whether its material lies ahead of it, turning about the edge."""
    normal = snapshot.faces[face].surface.normal_at(at)
    if normal is None:
        return None
    into = cross(normal, way if forward else scale(way, -1.0))
    return into, dot(cross(way, into), normal) < 0


def _angle(start: Vector, to: Vector, about: Vector) -> float:
    return atan2(dot(cross(start, to), about), dot(start, to)) % (2 * pi)


def _volume(snapshot: Snapshot, faces: list[int]) -> float:
    """What some faces enclose, mm3, within the error of their facets; negative where they look inwards."""
    total = 0.0
    for f in faces:
        face = snapshot.faces[f]
        if face.kind == "plane":
            total += face.surface.offset * face.area
        elif f in snapshot.facet_arrays:
            a, b, c = np.moveaxis(snapshot.facet_arrays[f], 1, 0)
            total += float((np.cross(a, b) * c).sum()) / 2
    return total / 3


def _lies_within(snapshot: Snapshot, hollow: list[int], piece: list[int]) -> bool:
    """Whether a hollow's points lie within the box of a piece of material."""
    inner, outer = (_points(snapshot, faces) for faces in (hollow, piece))
    return bool((inner.min(axis=0) >= outer.min(axis=0)).all() and (inner.max(axis=0) <= outer.max(axis=0)).all())


def _points(snapshot: Snapshot, faces: list[int]) -> np.ndarray:
    edges = sorted({e for f in faces for e in snapshot.face_edges[f]})
    curved = [snapshot.corners(f) for f in faces if f in snapshot.facet_arrays]
    return np.concatenate([np.array([p for e in edges for p in snapshot.edges[e].points]).reshape(-1, 3), *curved])
