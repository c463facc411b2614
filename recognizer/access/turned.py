"""Cones, spheres and tori that stand along the direction, cut off square all round: their cuts are arcs, exactly."""

from __future__ import annotations

from math import pi
from typing import TYPE_CHECKING

import numpy as np

from recognizer.access.obstacles import Arcs
from recognizer.access.roles import UPRIGHT
from recognizer.snapshot import Edge, Surface

if TYPE_CHECKING:
    from recognizer.access.laid import Laid
    from recognizer.access.levels import Levels

Array = np.ndarray
SAME_MM = 1e-3


def turned_faces(laid: Laid, cut: Array) -> dict[int, tuple[float, float]]:
    """{face: (middle angle, half span in rad)} of those faces that turn about an axis along their direction and are bounded
    by circles across it, and by meridians at the same two angles all the way up.
    """
    out = {}
    for name in np.unique(cut).tolist():
        f, k = laid.face(name), laid.tile(name)
        if f.kind in ("cone", "sphere", "torus") and abs(abs(np.dot(f.surface.axis, laid.d[k])) - 1) < UPRIGHT**2:
            edges = [laid.mesh.snapshot.edges[e] for e in laid.mesh.snapshot.face_edges[f.index]]
            axes = laid.axes[k]
            found = _span([e for e in edges if not e.degenerate], np.array(f.surface.origin) @ axes[:, :2], axes)
            if found is not None:
                out[name] = found
    return out


def is_exact(s: Surface) -> bool:
    """Whether nodes and cuts of a surface that turns about the direction go by its true radius.

    Those of hollow spheres and tori keep to the facets, which lie on the air's side of them: so do those of the fillets that
    they mostly run on into, and what is true of one alone would stand behind the other.
    """
    return s.kind in ("cylinder", "cone") or not s.hollow


def radius_at(s: Surface, rise: Array, outward: Array) -> Array:
    """(n,) radius about its axis of a cylinder, cone, sphere or torus so far (mm) from its origin along the axis.

    outward: whether the surface's normal points away from the axis there; a torus has two radii at a level.
    """
    if s.kind == "sphere":
        return np.sqrt(np.maximum(s.radius**2 - rise**2, 0.0))
    if s.kind == "torus":
        wide = np.sqrt(np.maximum(s.radius**2 - rise**2, 0.0))
        return s.major_radius + np.where(outward != s.hollow, wide, -wide)
    return np.abs(s.radius + rise * np.tan(np.radians(s.half_angle if s.kind == "cone" else 0.0)))


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


def arcs_of_cuts(laid: Levels, spans: dict[int, tuple[float, float]], cuts: tuple[Array, ...]) -> Arcs:
    """Cuts (piece, row, start (n, 2), end) of such faces as arcs, one for each face, row and side of a torus' crest."""
    piece, row, a, b = cuts
    tops = laid.cut_tops
    face = laid.pieces.face[piece]
    centre = np.zeros((laid.faces, 3))
    for f in spans:
        k = laid.tile(f)
        centre[f] = np.array(laid.face(f).surface.origin) @ laid.axes[k] + laid.shift[k]
    middle = (a + b) / 2 - centre[face, :2]
    outward = (laid.pieces.normal[piece, :2] * middle).sum(axis=1) > 0
    key = (face.astype(np.int64) * (len(tops) + 1) + row) * 2 + outward
    keys, first, at = np.unique(key, return_index=True, return_inverse=True)
    radius = np.zeros(len(keys))
    np.maximum.at(radius, at, np.maximum(*(np.linalg.norm(p - centre[face, :2], axis=1) for p in (a, b))))
    face, row, outward = face[first], row[first], outward[first]
    for f in spans:
        own, s = np.flatnonzero(face == f), laid.face(f).surface
        if is_exact(s):
            # A hair above its level: so it never lies on the wrong side of a node of its own row.
            rise = (tops[row[own]] - centre[f, 2]) * (-1.0 if float(np.dot(s.axis, laid.d[laid.tile(f)])) < 0 else 1.0)
            radius[own] = radius_at(s, rise, outward[own])
    angle = np.array([spans[f] for f in face.tolist()]).reshape(-1, 2)
    return Arcs(centre[face, :2], radius, angle[:, 0], angle[:, 1], tops[row], face, row)
