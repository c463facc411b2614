"""Validity of plane faces from a snapshot's own figures, so that the kernel's dear check is left for the others.

Nothing is refused here. A face passes only where all of this is plain to see: its edges are lines and arcs that lie in
its plane, each begins where the one before it ends, its loops neither cross nor touch, inner ones lie inside the outer
one, and all run the right way round. Every other face is for the kernel to judge.
"""

from __future__ import annotations

import numpy as np
import shapely

from recognizer.snapshot import Edge, Face, Snapshot

OFF_MM, OFF_SHARE = 1e-5, 1e-8
"""Points may lie this far off their place, mm and share of the part's size; what lies farther off is for the kernel."""
HALVINGS = 2
"""Chords of 10 degrees are halved so often: arcs then stray 0.02 % of their radius from their chords."""


def doubtful_faces(snapshot: Snapshot, finer: dict[int, np.ndarray] | None = None) -> list[int]:
    """Indices of the faces that are not plainly valid: curved ones, and plane ones with anything unusual.

    finer: (n, 3) points in short steps of edges that are neither lines nor arcs, where these are known.
    """
    fine = _fine(snapshot) | (finer or {})
    kept = [f for f in snapshot.faces if f.kind == "plane" and _usual(f, fine)]
    sound = {f.index for f, ok in zip(kept, _plainly_valid(kept, fine), strict=True) if ok} if kept else set()
    return [f.index for f in snapshot.faces if f.index not in sound]


def _usual(face: Face, fine: dict[int, np.ndarray]) -> bool:
    """Loops of lines and arcs only, and none without an area."""
    return bool(face.loops) and all(
        sum(len(fine[e]) - 1 if e in fine else -1000 for e, _ in loop) > 2 for loop in face.loops
    )


def _plainly_valid(faces: list[Face], fine: dict[int, np.ndarray]) -> np.ndarray:
    """(faces,) whether each is; all faces in one pass."""
    loops = [(k, m == 0, loop) for k, f in enumerate(faces) for m, loop in enumerate(f.loops)]
    runs = [fine[e] if forward else fine[e][::-1] for _, _, loop in loops for e, forward in loop]
    first_run = np.cumsum([0, *(len(loop) for _, _, loop in loops)])
    first_point = np.cumsum([0, *(len(r) - 1 for r in runs)])[first_run]
    owner = np.array([k for k, _, _ in loops])
    points = np.concatenate([r[:-1] for r in runs])
    ring = np.repeat(np.arange(len(loops)), np.diff(first_point))
    off = OFF_MM + OFF_SHARE * float(np.abs(points).max())
    normal = np.array([f.surface.axis for f in faces])
    level = np.array([f.surface.offset for f in faces])
    lifted = np.abs((points * normal[owner[ring]]).sum(axis=1) - level[owner[ring]])
    following = np.array([r[0] for r in runs])[_next(first_run)]
    gap = np.abs(np.array([r[-1] for r in runs]) - following).max(axis=1)
    # Seen along the axis that the face looks along most: outlines cross there if and only if they cross in the plane.
    main = np.abs(normal).argmax(axis=1)
    seen = np.take_along_axis(points, ((main[:, None] + (1, 2)) % 3)[owner[ring]], axis=1)
    ahead = seen[_next(first_point)]
    twice = np.add.reduceat(seen[:, 0] * ahead[:, 1] - seen[:, 1] * ahead[:, 0], first_point[:-1])
    upright = np.sign(np.take_along_axis(normal, main[:, None], axis=1)[:, 0])[owner]
    turns_well = (twice * upright > 0) == [outer for _, outer, _ in loops]
    good = turns_well & (np.maximum.reduceat(lifted, first_point[:-1]) < off)
    good &= np.maximum.reduceat(gap, first_run[:-1]) < off
    out = shapely.is_valid(shapely.polygons(shapely.linearrings(seen, indices=ring), indices=owner))
    out[owner[~good]] = False
    return out  # type: ignore[no-any-return]


def _next(first: np.ndarray) -> np.ndarray:
    """Place of the next one round each ring, whose members stand from first[i] to first[i + 1] - 1."""
    following = np.arange(1, first[-1] + 1)
    following[first[1:] - 1] = first[:-1]
    return following


def _fine(snapshot: Snapshot) -> dict[int, np.ndarray]:
    """(n, 3) points of each line and arc, arcs in short chords; no entry for other curves."""
    points, first = snapshot.edge_points.points, snapshot.edge_points.first
    out = {}
    arcs = []
    for e in snapshot.edges:
        if e.curve == "line":
            out[e.index] = points[first[e.index] : first[e.index + 1]]
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
