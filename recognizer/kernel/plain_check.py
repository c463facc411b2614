"""Validity of plane faces from a snapshot's own figures, so that the kernel's dear check is left for the others.

Nothing is refused here. A face passes only where all of this is plain to see: its edges are lines and arcs that lie in
its plane, each begins where the one before it ends, its loops neither cross nor touch, inner ones lie inside the outer
one, and all run the right way round. Every other face is for the kernel to judge.
"""

from __future__ import annotations

import numpy as np
import shapely

from recognizer.snapshot import Edge, Face, Snapshot, plane_axes

OFF_MM, OFF_SHARE = 1e-5, 1e-8
"""Points may lie this far off their place, mm and share of the part's size; what lies farther off is for the kernel."""
HALVINGS = 2
"""Chords of 10 degrees are halved so often: arcs then stray 0.02 % of their radius from their chords."""


def doubtful_faces(snapshot: Snapshot) -> list[int]:
    """Indices of the faces that are not plainly valid: curved ones, and plane ones with anything unusual."""
    fine = _fine(snapshot.edges)
    size = max((abs(c) for e in snapshot.edges for c in e.start), default=0.0)
    off = OFF_MM + OFF_SHARE * size
    plane = [f for f in snapshot.faces if f.kind == "plane"]
    rings = {f.index: _rings(f, snapshot.edges, fine, off) for f in plane}
    kept = [f for f in plane if rings[f.index] is not None]
    polygons = [shapely.Polygon(rings[f.index][0], rings[f.index][1:]) for f in kept]  # type: ignore[index]
    sound = {f.index for f, ok in zip(kept, shapely.is_valid(polygons), strict=True) if ok}
    return [f.index for f in snapshot.faces if f.index not in sound]


def _rings(face: Face, edges: tuple[Edge, ...], fine: dict[int, np.ndarray], off: float) -> list[np.ndarray] | None:
    """(n, 2) points of each loop across the face's normal, outer one anticlockwise; None where anything is unusual."""
    u, v = plane_axes(face.surface.axis)
    axes = np.array([u, v, face.surface.axis]).T
    rings = []
    for k, loop in enumerate(face.loops):
        if any(e not in fine for e, _ in loop):
            return None
        runs = [fine[e] if forward else fine[e][::-1] for e, forward in loop]
        if not runs:
            return None
        ends = np.array([r[-1] for r in runs]) - np.array([r[0] for r in (*runs[1:], runs[0])])
        points = np.concatenate([r[:-1] for r in runs]) @ axes
        if len(points) < 3 or (np.abs(ends) > off).any() or (np.abs(points[:, 2] - face.surface.offset) > off).any():
            return None
        x, y = points[:, 0] - points[0, 0], points[:, 1] - points[0, 1]
        twice = float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())
        if (twice > 0) != (k == 0):
            return None
        rings.append(points[:, :2])
    return rings or None


def _fine(edges: tuple[Edge, ...]) -> dict[int, np.ndarray]:
    """(n, 3) points of each line and arc, arcs in short chords; no entry for other curves."""
    out = {}
    arcs = []
    for e in edges:
        if e.curve == "line":
            out[e.index] = np.array(e.points)
        elif e.curve == "circle" and e.centre is not None:
            arcs.append(e)
    for e, points in zip(arcs, _halved(arcs), strict=True):
        out[e.index] = points
    return out


def _halved(arcs: list[Edge]) -> list[np.ndarray]:
    """Points of arcs with more of them between, moved out to the circle; all arcs in one pass."""
    if not arcs:
        return []
    counts = np.array([len(e.points) - 1 for e in arcs])
    q = np.array([p for e in arcs for p in e.points[:-1]])
    to = np.array([p for e in arcs for p in e.points[1:]])
    centre = np.repeat(np.array([e.centre for e in arcs]), counts, axis=0)[:, None, :]
    radius = np.repeat(np.array([e.radius for e in arcs]), counts)[:, None, None]
    chain = np.stack([q, to], axis=1)
    for _ in range(HALVINGS):
        middle = (chain[:, :-1] + chain[:, 1:]) / 2 - centre
        middle = centre + middle * (radius / np.linalg.norm(middle, axis=2, keepdims=True))
        longer = np.empty((len(chain), 2 * chain.shape[1] - 1, 3))
        longer[:, ::2], longer[:, 1::2] = chain, middle
        chain = longer
    ends = np.cumsum(counts)
    return [
        np.concatenate([chain[a:b, :-1].reshape(-1, 3), chain[b - 1, -1:]])
        for a, b in zip(ends - counts, ends, strict=True)
    ]
