"""Solids that cross or touch themselves: an edge that goes through a face which it does not bound, or ends on it.

A shell may be closed, with every face sound for itself, and yet run through itself; the kernel's check does not see
that. Edges are tested chord by chord against the faces whose boxes they enter. Only what is beyond doubt counts: where
an edge begins in a corner of the face, its chord's ends lie clear of the surface on opposite sides; and it meets the
face clear of its rim. Not seen here: free-form faces that are pierced, and faces that cross without an edge of either
going through (`touching.py`).
"""

from __future__ import annotations

from collections.abc import Iterable
from math import radians

import numpy as np
import shapely

from recognizer.snapshot import Edge, Snapshot, Surface, plane_axes

CLEAR_MM, CLEAR_SHARE = 0.005, 2e-5
"""How far from a face's rim an edge must meet it, and how far beyond the face the ends of a chord must lie that begins
at its rim: mm, and share of the part's size. Less is a gap, not a crossing."""
TOUCH_MM = 1e-3
"""Nearer than this, an edge lies on a face: what is between them has no thickness that could be cut or measured."""
SAME_MM = 1e-4
"""Points are compared by their coordinates in steps of this. Where two fall to either side of a step, the face's rim tells."""
BULGE = 0.05
"""Chords of 10 degrees stray by 2.2 % of their length from their arc: that of either side, and a little."""
HALVINGS = 28
"""To within 4e-9 of a chord's length."""
FEW = 300_000
"""Pairs of chords and faces up to which all are compared at once; beyond, a tree of boxes is worth its making."""
TESTED = ("plane", "cylinder", "cone", "sphere", "torus")


def crossings(snapshot: Snapshot, boxes: np.ndarray) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """(edge, face) of every edge that is sure to pass through a face, and of every other that touches one, in order.

    boxes: what face_boxes() tells of the snapshot.
    """
    ends, owner, bulge = _chords(snapshot, snapshot.edges)
    if not len(ends):
        return [], []
    clear = CLEAR_MM + CLEAR_SHARE * float(np.ptp(ends, axis=(0, 1)).max())
    chord, face = near(ends, boxes)
    own = np.array([(e.faces[0], e.faces[-1]) if e.faces else (-1, -1) for e in snapshot.edges])[owner[chord]]
    foreign = (own[:, 0] != face) & (own[:, 1] != face)
    chord, face = chord[foreign], face[foreign]
    surfaces = Surfaces(snapshot)
    beyond = surfaces.beyond(ends[chord], face)
    nearest = np.abs(beyond).min(axis=1)
    through = beyond[:, 0] * beyond[:, 1] < 0
    meets = np.flatnonzero(through | (nearest < TOUCH_MM))
    near_end = ends[chord[meets], np.abs(beyond[meets]).argmin(axis=1)]
    certain = through[meets] & (nearest[meets] > clear)
    meets = meets[certain | ~_at_rim(snapshot, near_end, face[meets])]
    passing: set[tuple[int, int]] = set()
    touching: set[tuple[int, int]] = set()
    interiors = Interiors(snapshot)
    for k, f, row in zip(chord[meets].tolist(), face[meets].tolist(), meets.tolist(), strict=True):
        edge = int(owner[k])
        found = passing if through[row] else touching
        if f not in snapshot.edges[edge].faces and (edge, f) not in found:
            at = (
                surfaces.places(ends[k, None], face[row, None])[0]
                if through[row]
                else ends[k, np.abs(beyond[row]).argmin()]
            )
            if interiors.holds(f, at, clear + float(bulge[k])):
                found.add((edge, f))
    touching = {(e, f) for e, f in touching - passing if not interiors.begins_at(f, snapshot.edges[e])}
    return sorted(passing), sorted(touching)


def _at_rim(snapshot: Snapshot, points: np.ndarray, face: np.ndarray) -> np.ndarray:
    """(n,) whether each of (n, 3) points is a point of its face's own edges."""
    edges = [(e.index, f) for e in snapshot.edges for f in e.faces]
    edge, of = np.array(edges, dtype=int).reshape(-1, 2).T
    place, counts = snapshot.edge_points.places(edge)
    rims = _numbered(snapshot.edge_points.points[place], np.repeat(of, counts))
    return np.isin(_numbered(points, face), rims)


def _numbered(points: np.ndarray, face: np.ndarray) -> np.ndarray:
    """(n,) a number for each point of a face, the same for the same point to within SAME_MM."""
    steps = np.round(points / SAME_MM).astype(np.int64)
    with np.errstate(over="ignore"):
        return ((steps[:, 0] * 73856093 + steps[:, 1]) * 19349663 + steps[:, 2]) * 83492791 + face  # type: ignore[no-any-return]


def _chords(snapshot: Snapshot, edges: Iterable[Edge]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(n, 2, 3) ends of every chord, (n,) its edge, (n,) how far its curve may stray from it, mm."""
    kept = [e for e in edges if not e.degenerate and len(e.points) > 1]
    if not kept:
        return np.empty((0, 2, 3)), np.empty(0, int), np.empty(0)
    ends, counts = snapshot.edge_points.chords(kept)
    bent = np.repeat([0.0 if e.curve == "line" else BULGE for e in kept], counts)
    return ends, np.repeat([e.index for e in kept], counts), bent * np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)


def face_boxes(snapshot: Snapshot) -> np.ndarray:
    """(faces, 2, 3) lowest and highest corner of each face, from its edges' chords and its facets; inside out where it
    has neither. Kept with the snapshot, since reading and recognition both ask.
    """
    if "_face_boxes" not in snapshot.__dict__:
        snapshot.__dict__["_face_boxes"] = _face_boxes(snapshot)
    return snapshot.__dict__["_face_boxes"]  # type: ignore[no-any-return]


def _face_boxes(snapshot: Snapshot) -> np.ndarray:
    ends, owner, _ = _chords(snapshot, snapshot.edges)
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


def near(ends: np.ndarray, boxes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
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


class Surfaces:
    """The surfaces of a part's faces as arrays, for what is asked of many pairs of face and point at once."""

    def __init__(self, snapshot: Snapshot) -> None:
        surfaces = [f.surface for f in snapshot.faces]
        kinds = [s.kind for s in surfaces]
        self.kinds = np.array([TESTED.index(k) if k in TESTED else len(TESTED) for k in kinds])
        self.sizes = np.array([(s.radius, s.major_radius, radians(s.half_angle)) for s in surfaces]).reshape(-1, 3)
        self.origins = np.array([s.origin for s in surfaces]).reshape(-1, 3)
        self.axes = np.array([s.axis for s in surfaces]).reshape(-1, 3)

    def beyond(self, points: np.ndarray, face: np.ndarray) -> np.ndarray:
        """(n, m) distance of (n, m, 3) points, m for each of (n,) faces, from that face's surface, negative on one side
        of it; infinite where the surface has no formula.
        """
        beyond = np.full(points.shape[:2], np.inf)
        for k, kind in enumerate(TESTED):
            rows = np.flatnonzero(self.kinds[face] == k)
            if len(rows):
                of = face[rows]
                rel = points[rows] - self.origins[of, None]
                beyond[rows] = _beyond(kind, rel, self.axes[of, None], *(self.sizes[of, None, n] for n in range(3)))
        return beyond

    def places(self, chords: np.ndarray, face: np.ndarray) -> np.ndarray:
        """(n, 3) points where (n, 2, 3) chords pass through the surfaces of (n,) faces: on a plane by their ends' levels,
        else by halving.
        """
        over, under = self.beyond(chords, face).T
        share = over / np.where(over == under, 1.0, over - under)
        out = chords[:, 0] + (chords[:, 1] - chords[:, 0]) * share[:, None]
        bent = np.flatnonzero(self.kinds[face] != TESTED.index("plane"))
        if len(bent):
            a, b, start = chords[bent, 0], chords[bent, 1], np.sign(over[bent])
            for _ in range(HALVINGS):
                middle = (a + b) / 2
                same = (np.sign(self.beyond(middle[:, None], face[bent])[:, 0]) == start)[:, None]
                a, b = np.where(same, middle, a), np.where(same, b, middle)
            out[bent] = (a + b) / 2
        return out  # type: ignore[no-any-return]


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


def of_surface(s: Surface, points: np.ndarray) -> np.ndarray:
    """(n,) distance of (n, 3) points from a surface of a kind that is TESTED, negative on one side of it."""
    sizes = (np.array(v) for v in (s.radius, s.major_radius, radians(s.half_angle)))
    return _beyond(s.kind, points - np.array(s.origin), np.array(s.axis), *sizes)


class Interiors:
    """Whether points lie on faces, clear of their rims; each face's outline is made once."""

    def __init__(self, snapshot: Snapshot) -> None:
        self._snapshot = snapshot
        self._outlines: dict[int, tuple[np.ndarray, shapely.Geometry]] = {}

    def holds(self, face: int, at: np.ndarray, clear: float) -> bool:
        """Whether a point of a face's surface lies on the face, at least `clear` from its rim."""
        surface = self._snapshot.faces[face].surface
        if surface.kind == "plane":
            across, outline = self._outline(face)
            if not shapely.contains_xy(outline, *(across @ at)):
                return False
        else:
            triangles = self._snapshot.facet_arrays.get(face)
            if triangles is None or not _over(triangles, at, surface):
                return False
        rim, _, bulge = _chords(self._snapshot, (self._snapshot.edges[e] for e in self._snapshot.face_edges[face]))
        return not len(rim) or _gap(rim, at) >= clear + float(bulge.max())

    def begins_at(self, face: int, edge: Edge) -> bool:
        """Whether an edge begins or ends at a face's rim: it may leave the face as softly as a blend does."""
        rim, _, _ = _chords(self._snapshot, (self._snapshot.edges[e] for e in self._snapshot.face_edges[face]))
        return any(_gap(rim, np.array(edge.points[k])) < TOUCH_MM for k in (0, -1)) if len(rim) else False

    def overlap(self, face: int, other: int, clear: float) -> bool:
        """Whether two plane faces of one plane cover the same ground, more than `clear` from either's rim."""
        edges = [self._snapshot.edges[e] for f in (face, other) for e in self._snapshot.face_edges[f]]
        clear += float(_chords(self._snapshot, edges)[2].max(initial=0))
        across, outline = self._outline(face)
        _, again = self._outline(other, across)
        return not outline.intersection(again).buffer(-clear).is_empty

    def _outline(self, face: int, across: np.ndarray | None = None) -> tuple[np.ndarray, shapely.Geometry]:
        """Axes across a plane face, its own if none are given, and its region along them."""
        if across is None and face in self._outlines:
            return self._outlines[face]
        axes = np.array(plane_axes(self._snapshot.faces[face].surface.axis)) if across is None else across
        loops = range(len(self._snapshot.faces[face].loops))
        rings = [np.array(self._snapshot.loop_points(face, k)) @ axes.T for k in loops]
        outer, *inner = [r for r in rings if len(r) > 2] or [np.empty((0, 2))]
        region = shapely.Polygon(outer, inner)
        shapely.prepare(region)
        if across is None:
            self._outlines[face] = axes, region
        return axes, region


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
