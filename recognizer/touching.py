"""Faces of one solid that go through each other without an edge of either doing so, and faces that lie on each other.

Both are seen by no check of single faces or edges. A curved face goes through another one for sure where the ends of a
facet's side, which lie on it, lie clear of the other's surface on opposite sides, and the way between passes clear of the
other's rim. Two plane faces, or two cylinders of one axis, lie on each other where they cover the same ground within a
micrometre: a wall or a slit without thickness, or a face that is there twice. Faces that share an edge are left out.
Not seen: two free forms that go through each other.
"""

from __future__ import annotations

import numpy as np

from recognizer.crossings import (
    BULGE,
    CLEAR_MM,
    CLEAR_SHARE,
    TESTED,
    TOUCH_MM,
    Interiors,
    beyond_surfaces,
    near,
    of_surface,
    places_of,
)
from recognizer.snapshot import Snapshot

FEW = 2000
"""Faces up to which a table of all pairs is made."""
LIKE = {"plane": 1, "cylinder": 2}
"""Surfaces that are compared with their like."""
PARALLEL = 1e-7
"""Cosines of directions that differ by less than this from 1 are taken for parallel: 0.03 degrees."""


def touching_faces(snapshot: Snapshot, boxes: np.ndarray) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """(face, face) of every two that are sure to go through each other, and that lie on each other, in order."""
    size = float(np.ptp(snapshot.edge_points.points, axis=0).max()) if len(snapshot.edge_points.points) else 0.0
    clear = CLEAR_MM + CLEAR_SHARE * size
    first, second = near(boxes + [[-TOUCH_MM], [TOUCH_MM]], boxes)
    kept = (first != second) & ~_share_an_edge(snapshot, first, second)
    first, second = first[kept], second[kept]
    interiors = Interiors(snapshot)
    through = _going_through(snapshot, boxes, first, second, clear, interiors)
    once = first < second
    on = _lying_on(snapshot, boxes, first[once], second[once], clear, interiors)
    return through, on


def _share_an_edge(snapshot: Snapshot, first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """(n,) whether the two faces of each pair do."""
    count = len(snapshot.faces)
    sharing = np.array([a * count + b for e in snapshot.edges for a in e.faces for b in e.faces], dtype=int)
    if count > FEW:
        return np.isin(first * count + second, sharing)
    beside = np.zeros(count * count, dtype=bool)
    beside[sharing] = True
    return beside[first * count + second]  # type: ignore[no-any-return]


def _going_through(
    snapshot: Snapshot, boxes: np.ndarray, first: np.ndarray, second: np.ndarray, clear: float, interiors: Interiors
) -> list[tuple[int, int]]:
    kinds = np.array([f.kind for f in snapshot.faces])
    curved = np.array([k != "plane" and len(snapshot.facet_arrays.get(f, ())) > 0 for f, k in enumerate(kinds)])
    asked = curved[first] & np.isin(kinds[second], TESTED)
    pairs = list(zip(first[asked].tolist(), second[asked].tolist(), strict=True))
    if not pairs:
        return []
    corners = [snapshot.corners(a) for a, _ in pairs]
    counts = [len(c) for c in corners]
    faces = np.repeat([b for _, b in pairs], counts)
    points = np.concatenate(corners)
    beyond = beyond_surfaces(snapshot, points[:, None], np.arange(len(points)), faces)[:, 0]
    begins = np.cumsum([0, *counts])[:-1]
    reaches = (np.minimum.reduceat(beyond, begins) < -clear) & (np.maximum.reduceat(beyond, begins) > clear)
    likely = [pair for pair, ok in zip(pairs, reaches, strict=True) if ok]
    return [(a, b) for a, b in likely if _goes_through(snapshot, a, b, boxes[b], clear, interiors)]


def _goes_through(
    snapshot: Snapshot, face: int, other: int, box: np.ndarray, clear: float, interiors: Interiors
) -> bool:
    """Whether a side of one of a curved face's facets leads through another face, which has this box."""
    facets = snapshot.facet_arrays[face]
    sides = np.concatenate([facets[:, (0, 1)], facets[:, (1, 2)], facets[:, (2, 0)]])
    inside = ((sides.min(axis=1) <= box[1]) & (sides.max(axis=1) >= box[0])).all(axis=1)
    sides = sides[inside]
    surface = snapshot.faces[other].surface
    begin, end = of_surface(surface, sides[:, 0]), of_surface(surface, sides[:, 1])
    sides = sides[(begin * end < 0) & (np.minimum(np.abs(begin), np.abs(end)) > clear)]
    if not len(sides):
        return False
    places = places_of(surface, sides)
    stray = clear + BULGE * np.linalg.norm(sides[:, 1] - sides[:, 0], axis=1)
    within = ((places >= box[0]) & (places <= box[1])).all(axis=1)
    return any(interiors.holds(other, places[k], float(stray[k])) for k in np.flatnonzero(within))


def _lying_on(
    snapshot: Snapshot, boxes: np.ndarray, first: np.ndarray, second: np.ndarray, clear: float, interiors: Interiors
) -> list[tuple[int, int]]:
    surfaces = [f.surface for f in snapshot.faces]
    axes = np.array([s.axis for s in surfaces])
    alike = np.array([LIKE.get(s.kind, 0) for s in surfaces])
    kept = (alike[first] == alike[second]) & (alike[first] > 0)
    kept &= np.abs((axes[first] * axes[second]).sum(axis=1)) > 1 - PARALLEL
    first, second = first[kept], second[kept]
    low = np.maximum(boxes[first, 0], boxes[second, 0])
    wide = ((np.minimum(boxes[first, 1], boxes[second, 1]) - low) > clear).sum(axis=1) >= 2
    origins, radii = np.array([s.origin for s in surfaces]), np.array([s.radius for s in surfaces])
    rel = origins[second] - origins[first]
    along = (rel * axes[first]).sum(axis=1)
    off = np.linalg.norm(rel - along[:, None] * axes[first], axis=1)
    planes = alike[first] == LIKE["plane"]
    same = np.where(planes, np.abs(along), np.maximum(off, np.abs(radii[first] - radii[second]))) < TOUCH_MM
    out = []
    for k in np.flatnonzero(wide & same):
        a, b = int(first[k]), int(second[k])
        covered = interiors.overlap(a, b, clear) if planes[k] else _covered(snapshot, a, b, clear, interiors)
        if covered:
            out.append((a, b))
    return out


def _covered(snapshot: Snapshot, face: int, other: int, clear: float, interiors: Interiors) -> bool:
    """Whether the middle of a facet of one cylinder lies on another of the same axis and radius."""
    surface = snapshot.faces[other].surface
    middles = snapshot.facet_arrays[face].mean(axis=1) if face in snapshot.facet_arrays else np.empty((0, 3))
    rel = middles - np.array(surface.origin)
    along = np.outer(rel @ np.array(surface.axis), surface.axis)
    radial = rel - along
    onto = np.array(surface.origin) + along + radial * (surface.radius / np.linalg.norm(radial, axis=1))[:, None]
    return any(interiors.holds(other, at, clear) for at in onto)
