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
    Surfaces,
    near,
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
    surfaces = Surfaces(snapshot)
    beyond = surfaces.beyond(np.concatenate(corners)[:, None], faces)[:, 0]
    begins = np.cumsum([0, *counts])[:-1]
    reaches = (np.minimum.reduceat(beyond, begins) < -clear) & (np.maximum.reduceat(beyond, begins) > clear)
    likely = [pair for pair, ok in zip(pairs, reaches, strict=True) if ok]
    return _led_through(snapshot, surfaces, likely, boxes, clear, interiors) if likely else []


def _led_through(
    snapshot: Snapshot,
    surfaces: Surfaces,
    pairs: list[tuple[int, int]],
    boxes: np.ndarray,
    clear: float,
    interiors: Interiors,
) -> list[tuple[int, int]]:
    """Pairs (curved face, other) of which a side of one of the first's facets leads through the other."""
    facets = {a: _sides_and_boxes(snapshot.facet_arrays[a]) for a in {a for a, _ in pairs}}
    close = [_meeting(*facets[a], boxes[b]) for a, b in pairs]
    sides, pair = np.concatenate(close), np.repeat(np.arange(len(pairs)), [len(c) for c in close])
    other = np.array([b for _, b in pairs])[pair]
    begin, end = surfaces.beyond(sides, other).T
    crossing = (begin * end < 0) & (np.minimum(np.abs(begin), np.abs(end)) > clear)
    sides, pair, other = sides[crossing], pair[crossing], other[crossing]
    places = surfaces.places(sides, other)
    stray = clear + BULGE * np.linalg.norm(sides[:, 1] - sides[:, 0], axis=1)
    within = ((places >= boxes[other, 0]) & (places <= boxes[other, 1])).all(axis=1)
    found: set[int] = set()
    for k in np.flatnonzero(within):
        if int(pair[k]) not in found and interiors.holds(int(other[k]), places[k], float(stray[k])):
            found.add(int(pair[k]))
    return [pairs[n] for n in sorted(found)]


def _sides_and_boxes(facets: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(n, 2, 3) sides of facets, (n, 3) the lowest and (n, 3) the highest corners of their boxes."""
    sides = np.concatenate([facets[:, (0, 1)], facets[:, (1, 2)], facets[:, (2, 0)]])
    return sides, sides.min(axis=1), sides.max(axis=1)


def _meeting(sides: np.ndarray, low: np.ndarray, high: np.ndarray, box: np.ndarray) -> np.ndarray:
    """Those of some sides whose boxes meet a box."""
    return sides[((low <= box[1]) & (high >= box[0])).all(axis=1)]


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
