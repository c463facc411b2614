"""Solids that cross themselves: an edge that goes right through a face which it does not bound.

A shell may be closed, with every face sound for itself, and yet run through itself; the kernel's check does not see
that. Edges are tested chord by chord against the faces whose boxes they enter. Only what is beyond doubt counts: the
chord's ends lie clear of the surface on opposite sides, and it passes clear of the face's rim. Not seen: free-form
faces that are pierced, and faces that cross without an edge of either going through.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import radians

import numpy as np
import shapely

from recognizer.snapshot import Edge, Snapshot, Surface, plane_axes

CLEAR_MM, CLEAR_SHARE = 0.005, 2e-5
"""How far beyond a face a chord's ends must lie: mm, and share of the part's size. Less is a gap, not a crossing."""
BULGE = 0.05
"""Chords of 10 degrees stray by 2.2 % of their length from their arc: that of either side, and a little."""
HALVINGS = 40
FEW = 300_000
"""Pairs of chords and faces up to which all are compared at once; beyond, a tree of boxes is worth its making."""
TESTED = ("plane", "cylinder", "cone", "sphere", "torus")


def crossings(snapshot: Snapshot) -> list[tuple[int, int]]:
    """(edge, face) of every edge that is sure to pass through a face, in order."""
    ends, owner, bulge = _chords(snapshot, snapshot.edges)
    if not len(ends):
        return []
    clear = CLEAR_MM + CLEAR_SHARE * float(np.ptp(ends, axis=(0, 1)).max())
    chord, face = _near(ends, _boxes(snapshot, ends, owner))
    passed = _passed(snapshot, ends, chord, face, clear)
    chord, face = chord[passed], face[passed]
    found = set()
    for k, f in zip(chord.tolist(), face.tolist(), strict=True):
        edge, surface = int(owner[k]), snapshot.faces[f].surface
        if f not in snapshot.edges[edge].faces and (edge, f) not in found:
            at = _place(surface, ends[k])
            if _within(snapshot, f, at, clear + float(bulge[k])):
                found.add((edge, f))
    return sorted(found)


def _chords(snapshot: Snapshot, edges: Iterable[Edge]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(n, 2, 3) ends of every chord, (n,) its edge, (n,) how far its curve may stray from it, mm."""
    kept = [e for e in edges if not e.degenerate and len(e.points) > 1]
    if not kept:
        return np.empty((0, 2, 3)), np.empty(0, int), np.empty(0)
    ends, counts = snapshot.edge_points.chords(kept)
    bent = np.repeat([0.0 if e.curve == "line" else BULGE for e in kept], counts)
    return ends, np.repeat([e.index for e in kept], counts), bent * np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)


def _boxes(snapshot: Snapshot, ends: np.ndarray, owner: np.ndarray) -> np.ndarray:
    """(faces, 2, 3) lowest and highest corner of each face, from its edges' chords and its facets; inside out where it
    has neither.
    """
    boxes = np.full((len(snapshot.faces), 2, 3), np.inf)
    boxes[:, 1] = -np.inf
    faces = [snapshot.edges[e].faces for e in owner.tolist()]
    row = np.repeat(np.arange(len(owner)), [len(f) for f in faces])
    face = np.array([f for fs in faces for f in fs], dtype=int)
    np.minimum.at(boxes[:, 0], face, ends.min(axis=1)[row])
    np.maximum.at(boxes[:, 1], face, ends.max(axis=1)[row])
    curved = [f for f, triangles in snapshot.facet_arrays.items() if len(triangles)]
    if curved:
        corners = [snapshot.corners(f) for f in curved]
        points, begins = np.concatenate(corners), np.cumsum([0, *map(len, corners)])[:-1]
        boxes[curved, 0] = np.minimum(boxes[curved, 0], np.minimum.reduceat(points, begins))
        boxes[curved, 1] = np.maximum(boxes[curved, 1], np.maximum.reduceat(points, begins))
    return boxes


def _near(ends: np.ndarray, boxes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Pairs of chord and face whose boxes meet, as two arrays of indices."""
    low, high = ends.min(axis=1), ends.max(axis=1)
    if len(ends) * len(boxes) <= FEW:
        meet = (low[:, None] <= boxes[None, :, 1]) & (high[:, None] >= boxes[None, :, 0])
        chord, face = np.nonzero(meet.all(axis=2))
        return chord, face
    u, v, w = np.argsort(-np.ptp(ends, axis=(0, 1))).tolist()
    tree = shapely.STRtree(shapely.box(*boxes[:, 0, (u, v)].T, *boxes[:, 1, (u, v)].T))
    chord, face = tree.query(shapely.box(*low[:, (u, v)].T, *high[:, (u, v)].T))
    meet = (low[chord, w] <= boxes[face, 1, w]) & (high[chord, w] >= boxes[face, 0, w])
    return chord[meet], face[meet]


def _passed(snapshot: Snapshot, ends: np.ndarray, chord: np.ndarray, face: np.ndarray, clear: float) -> np.ndarray:
    """(n,) whether the ends of each pair's chord lie clear of its face's surface, on opposite sides of it."""
    surfaces = [f.surface for f in snapshot.faces]
    kinds = np.array([s.kind for s in surfaces])
    sizes = np.array([(s.radius, s.major_radius, radians(s.half_angle)) for s in surfaces])
    origins, axes = np.array([s.origin for s in surfaces]), np.array([s.axis for s in surfaces])
    tested = np.isin(kinds[face], TESTED)
    chord, face, places = chord[tested], face[tested], np.flatnonzero(tested)
    beyond = np.empty((len(face), 2))
    for kind in TESTED:
        rows = np.flatnonzero(kinds[face] == kind)
        if len(rows):
            of = face[rows]
            rel = ends[chord[rows]] - origins[of, None]
            beyond[rows] = _beyond(kind, rel, axes[of, None], *(sizes[of, None, n] for n in range(3)))
    out = np.zeros(len(tested), dtype=bool)
    out[places] = (beyond[:, 0] * beyond[:, 1] < 0) & (np.abs(beyond).min(axis=1) > clear)
    return out


def _beyond(
    kind: str, rel: np.ndarray, axis: np.ndarray, radius: np.ndarray, major: np.ndarray, lean: np.ndarray
) -> np.ndarray:
    """(...) distance of points from a surface, negative on one side of it; rel: (..., 3) the points from its origin."""
    along = (rel * axis).sum(axis=-1)
    if kind == "plane":
        return along
    if kind == "sphere":
        return np.linalg.norm(rel, axis=-1) - radius
    off = np.linalg.norm(rel - along[..., None] * axis, axis=-1)
    if kind == "torus":
        return np.hypot(off - major, along) - radius
    lean = lean if kind == "cone" else np.zeros_like(lean)
    return (off - radius) * np.cos(lean) - along * np.sin(lean)


def _of_surface(s: Surface, points: np.ndarray) -> np.ndarray:
    """(n,) the same for points of one surface."""
    sizes = (np.array(v) for v in (s.radius, s.major_radius, radians(s.half_angle)))
    return _beyond(s.kind, points - np.array(s.origin), np.array(s.axis), *sizes)


def _place(surface: Surface, chord: np.ndarray) -> np.ndarray:
    """Point where a chord passes through a surface, by halving."""
    a, b = chord
    start = np.sign(_of_surface(surface, a[None]))
    for _ in range(HALVINGS):
        middle = (a + b) / 2
        a, b = (middle, b) if np.sign(_of_surface(surface, middle[None])) == start else (a, middle)
    return (a + b) / 2  # type: ignore[no-any-return]


def _within(snapshot: Snapshot, face: int, at: np.ndarray, clear: float) -> bool:
    """Whether a point of a face's surface lies on the face, clear of its rim."""
    rim, _, bulge = _chords(snapshot, (snapshot.edges[e] for e in snapshot.face_edges[face]))
    if len(rim) and _gap(rim, at) < clear + bulge.max():
        return False
    surface = snapshot.faces[face].surface
    if surface.kind == "plane":
        across = np.array(plane_axes(surface.axis))
        rings = [np.array(snapshot.loop_points(face, k)) @ across.T for k in range(len(snapshot.faces[face].loops))]
        outer, *inner = [shapely.Polygon(r) for r in rings if len(r) > 2] or [shapely.Polygon()]
        point = shapely.Point(across @ at)
        return bool(outer.contains(point)) and not any(r.contains(point) for r in inner)
    triangles = snapshot.facet_arrays.get(face)
    return triangles is not None and _over(triangles, at, surface)


def _gap(chords: np.ndarray, at: np.ndarray) -> float:
    """Distance of a point from the nearest of (n, 2, 3) chords."""
    a, way = chords[:, 0], chords[:, 1] - chords[:, 0]
    share = ((at - a) * way).sum(axis=1) / np.maximum((way * way).sum(axis=1), 1e-30)
    return float(np.linalg.norm(a + np.clip(share, 0, 1)[:, None] * way - at, axis=1).min())


def _over(triangles: np.ndarray, at: np.ndarray, surface: Surface) -> bool:
    """Whether a facet lies under a point of a curved surface, seen along the surface's normal there.

    The facets lie within a small share of the radius of the surface; what lies farther is its other side.
    """
    normal = surface.normals_at(at[None])[0]
    if np.isnan(normal).any():
        return False
    a, e, f = triangles[:, 0], triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    size = np.cross(e, f) @ normal
    with np.errstate(divide="ignore", invalid="ignore"):
        rel = at - a
        u = np.cross(rel, f) @ normal / size
        v = np.cross(e, rel) @ normal / size
        depth = (np.cross(e, f) * rel).sum(axis=1) / size
        return bool(((u > -1e-3) & (v > -1e-3) & (u + v < 1 + 1e-3) & (np.abs(depth) < 0.2 * surface.radius)).any())
