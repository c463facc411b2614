"""Round faces whose normals contradict their loops: seen from outside, a face lies to the left of each of its loops.

A torus in two halves comes out so of some files of mirrored parts, with its outer rim the wrong way round in both halves;
the kernel then takes its normals, and with them the part's volume, the wrong way round.
"""

from __future__ import annotations

import numpy as np

from recognizer.snapshot import Edge, Snapshot

ROUND = ("torus", "sphere", "cone", "cylinder")
ON_RIM_MM = 1e-3


def turned_faces(snapshot: Snapshot) -> list[int]:
    """Faces that go all round, with facets to the right of one of their rims."""
    return [f.index for f in snapshot.faces if f.kind in ROUND and _turned(snapshot, f.index)]


def _turned(snapshot: Snapshot, face: int) -> bool:
    loops, s = snapshot.faces[face].loops, snapshot.faces[face].surface
    links = [(snapshot.edges[e], forward) for loop in loops for e, forward in loop]
    ring = s.kind == "torus" and s.major_radius > s.radius + ON_RIM_MM
    if not any(edge.seam for edge, _ in links):
        return False
    if ring and any(edge.degenerate for edge, _ in links):
        return True  # what goes all round a ring has no tip: the kernel closed a loop that does not close
    return any(_side(snapshot, face, edge, forward) < 0 for edge, forward in links if _rim(edge))


def _rim(edge: Edge) -> bool:
    """A whole circle."""
    if edge.curve != "circle" or not edge.centre or edge.seam or edge.degenerate:
        return False
    return bool(np.allclose(edge.start, edge.end, atol=ON_RIM_MM)) and len(edge.points) > 3


def _side(snapshot: Snapshot, face: int, edge: Edge, forward: bool) -> float:
    """Facets to the left of a rim less those to its right; 0 where none stands on it."""
    corners, centre = snapshot.facet_arrays.get(face, np.empty((0, 3, 3))), np.array(edge.centre)
    first, second = np.array(edge.points[0]) - centre, np.array(edge.points[1]) - centre
    way = np.cross(first, second) * (1.0 if forward else -1.0)
    axis = way / (np.linalg.norm(way) or 1.0)
    rel = corners - centre
    level = rel @ axis
    off = np.hypot(level, np.linalg.norm(rel - level[..., None] * axis, axis=2) - edge.radius)
    on = off < ON_RIM_MM
    count = on.sum(axis=1)
    beside = (count == 1) | (count == 2)
    if not beside.any():
        return 0.0
    rel, on, count = rel[beside], on[beside][..., None], count[beside][:, None]
    foot = (rel * on).sum(axis=1) / count
    inwards = (rel * ~on).sum(axis=1) / (3 - count) - foot
    normals = snapshot.faces[face].surface.normals_at(foot + centre)
    left = np.cross(normals, np.cross(axis, foot))
    return float(np.nansum(np.sign((left * inwards).sum(axis=1))))
