"""Cones, spheres and tori that stand along the direction, cut off square all round: their cuts are arcs, exactly."""

from __future__ import annotations

from math import pi

import numpy as np

from recognizer.access.mesh import Mesh
from recognizer.access.obstacles import Arcs
from recognizer.access.roles import UPRIGHT
from recognizer.snapshot import Edge

Array = np.ndarray
SAME_MM = 1e-3


def turned_faces(mesh: Mesh, axes: Array) -> dict[int, tuple[float, float]]:
    """{face: (middle angle, half span in rad)} of faces that turn about an axis along the direction axes[:, 2] and are
    bounded by circles across it, and by meridians at the same two angles all the way up.
    """
    out = {}
    d = axes[:, 2]
    for f in mesh.snapshot.faces:
        if f.kind in ("cone", "sphere", "torus") and abs(abs(np.dot(f.surface.axis, d)) - 1) < UPRIGHT**2:
            edges = [mesh.snapshot.edges[e] for e in mesh.snapshot.face_edges[f.index]]
            found = _span([e for e in edges if not e.degenerate], np.array(f.surface.origin) @ axes[:, :2], axes)
            if found is not None:
                out[f.index] = found
    return out


def _span(edges: list[Edge], centre: Array, axes: Array) -> tuple[float, float] | None:
    """The angles between which all of a face lies; None where an edge is neither a circle across nor a meridian."""
    spans = []
    for e in edges:
        p = np.array(e.points) @ axes
        rel = p[:, :2] - centre
        far = np.linalg.norm(rel, axis=1)
        if e.curve == "circle" and np.ptp(p[:, 2]) < SAME_MM and np.ptp(far) < SAME_MM:
            turn = np.unwrap(np.arctan2(rel[:, 1], rel[:, 0]))
            spans.append((float(turn[0] + turn[-1]) / 2, abs(float(turn[-1] - turn[0])) / 2))
        elif not _is_meridian(rel, far):
            return None
    if not spans:
        return None
    middle, half = spans[0]
    if half > pi - 1e-3:
        return (0.0, pi) if all(h > pi - 1e-3 for _, h in spans) else None
    same = all(abs((m - middle + pi) % (2 * pi) - pi) < 1e-4 and abs(h - half) < 1e-4 for m, h in spans)
    return (middle, half) if same else None


def _is_meridian(rel: Array, far: Array) -> bool:
    """Whether points stand in one half plane through the axis."""
    lead = rel[far.argmax()] / max(float(far.max()), 1e-12)
    aside = np.abs(rel[:, 0] * lead[1] - rel[:, 1] * lead[0])
    return bool(aside.max() < SAME_MM and (rel @ lead).min() > -SAME_MM)


def arcs_of_cuts(
    mesh: Mesh, axes: Array, spans: dict[int, tuple[float, float]], cuts: tuple[Array, ...], tops: Array
) -> Arcs:
    """Cuts (piece, row, start (n, 2), end) of such faces as arcs, one for each face, row and side of a torus' crest."""
    piece, row, a, b = cuts
    face = mesh.pieces.face[piece]
    centre = np.zeros((len(mesh.snapshot.faces), 3))
    for f in spans:
        centre[f] = np.array(mesh.snapshot.faces[f].surface.origin) @ axes
    middle = (a + b) / 2 - centre[face, :2]
    outward = ((mesh.pieces.normal[piece] @ axes[:, :2]) * middle).sum(axis=1) > 0
    key = (face.astype(np.int64) * (len(tops) + 1) + row) * 2 + outward
    keys, first, at = np.unique(key, return_index=True, return_inverse=True)
    radius = np.zeros(len(keys))
    np.maximum.at(radius, at, np.maximum(*(np.linalg.norm(p - centre[face, :2], axis=1) for p in (a, b))))
    face, row = face[first], row[first]
    for i, f in enumerate(face.tolist()):
        s = mesh.snapshot.faces[f].surface
        if s.kind == "cone":
            # A hair above its level: so it never lies on the wrong side of a node of its own row.
            rise = (tops[row[i]] - centre[f, 2]) * float(np.dot(s.axis, axes[:, 2]))
            radius[i] = abs(s.radius + rise * np.tan(np.radians(s.half_angle)))
    angle = np.array([spans[f] for f in face.tolist()]).reshape(-1, 2)
    return Arcs(centre[face, :2], radius, angle[:, 0], angle[:, 1], tops[row], face, row)
