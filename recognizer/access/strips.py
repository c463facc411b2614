"""Faces cut into level strips with nodes along them: where a cutter's contact with a standing or leaning face is asked.

A strip is the cut of a piece of a face at the middle of a band; it stands for the band's share of the face's area. What is
found at its nodes is taken as straight between them: exact beside straight and parallel walls.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from recognizer.access.obstacles import Arcs, Nodes, Segments
from recognizer.access.scene import UPRIGHT, Scene

Array = np.ndarray
ALONG = np.array([0.0, 0.01, 0.03, 0.07, 0.14, 0.24, 0.37, 0.5, 0.63, 0.76, 0.86, 0.93, 0.97, 0.99, 1.0])
"""Nodes along a strip of a plane face, as shares of its length: closer at the ends, where corners are."""
FACET_NODES = 7
"""Most nodes along a strip of a facet; they stand a fortieth of the part apart."""
PROUD = 1e-4
"""An obstacle that stands out of the wall's own plane by less (mm) is the wall itself."""
PULL_MM = 1e-3
"""End nodes stand this far inside their strip, so that a corner has two sides."""


MOST_PAIRS = 2_000_000
"""Up to so many pairs of strip and obstacle are looked at one by one."""


@dataclass
class Strips:
    """Strips (n): face, piece, level, area in mm2, band (n, 2); nodes (k) in strip order with `strip` and `share` along."""

    face: Array
    piece: Array
    level: Array
    area: Array
    band: Array
    a: Array
    b: Array
    nodes: Nodes
    strip: Array
    share: Array
    cap: Array
    lean: Array
    """(k,) cosine of each node's normal with the direction."""

    def measured(self, good: Array) -> Array:
        """(n,) share of each strip on which a value at the nodes is at least zero, straight between nodes.

        good: (k,) signed values.
        """
        same = self.strip[1:] == self.strip[:-1]
        width = (self.share[1:] - self.share[:-1])[same]
        one, two = good[:-1][same], good[1:][same]
        top, bottom = np.maximum(one, two), np.minimum(one, two)
        part = np.where(bottom >= 0, 1.0, np.where(top < 0, 0.0, top / np.where(top > bottom, top - bottom, 1.0)))
        count = len(self.face)
        total = np.bincount(self.strip[1:][same], width * part, count).astype(
            float
        )  # of nothing it counts in whole numbers
        # Before the first and after the last node the value is theirs.
        first = np.concatenate([[True], ~same]) if len(self.strip) else np.empty(0, bool)
        last = np.concatenate([~same, [True]]) if len(self.strip) else np.empty(0, bool)
        total += np.bincount(self.strip[first], self.share[first] * (good[first] >= 0), count)
        total += np.bincount(self.strip[last], (1 - self.share[last]) * (good[last] >= 0), count)
        return np.clip(total, 0.0, 1.0)


def strips_of(scene: Scene) -> Strips:
    """Strips of every piece that is not square to the direction and does not turn its back on it."""
    pieces = scene.mesh.pieces
    wanted = (np.abs(scene.cosine) < 1 - UPRIGHT**2) & (scene.cosine > -UPRIGHT)
    low, high = scene.spans
    found = [
        _standing(scene, np.flatnonzero(wanted & ~scene.leaning), low, high),
        _cut(scene, np.flatnonzero(wanted & scene.leaning & pieces.curved), scene.fine_bands, low, high),
        _cut(scene, np.flatnonzero(wanted & scene.leaning & ~pieces.curved), scene.plane_bands, low, high),
    ]
    missed = np.setdiff1d(np.flatnonzero(wanted), np.concatenate([f[0] for f in found]))
    if len(missed):
        found.append(_thin(scene, missed, low, high))
    owner, level, a, b, bottom, top = (np.concatenate(columns) for columns in zip(*found, strict=True))
    size = np.maximum(np.linalg.norm(b - a, axis=1), 1e-9) * np.maximum(top - bottom, 1e-9)
    whole = np.bincount(owner, size, len(pieces.face))
    area = size / np.where(whole[owner] > 0, whole[owner], 1.0) * pieces.area[owner]
    order = np.lexsort((level, owner, pieces.face[owner]))
    return _with_nodes(scene, *(x[order] for x in (owner, level, area, bottom, top, a, b)))


def _standing(scene: Scene, chosen: Array, low: Array, high: Array) -> tuple[Array, ...]:
    """Upright pieces cut in bands between those levels at which something begins or ends near their face."""
    levels = scene.rows_of_bands
    owner, row, a, b = scene.slices(chosen, levels, scene.merged.chosen)
    face = scene.mesh.pieces.face[owner]
    bottom = np.maximum(scene.merged.bottom[face, row], low[owner])
    top = np.minimum(scene.merged.top[face, row], high[owner])
    return owner, levels[row], a, b, bottom, top


def _cut(scene: Scene, chosen: Array, bands: Array, low: Array, high: Array) -> tuple[Array, ...]:
    """Pieces cut in the middle of the bands that they cross: (piece, level, start, end, bottom, top)."""
    levels = bands.mean(axis=1)
    owner, row, a, b = scene.slices(chosen, levels)
    return owner, levels[row], a, b, np.maximum(bands[row, 0], low[owner]), np.minimum(bands[row, 1], high[owner])


def _thin(scene: Scene, missed: Array, low: Array, high: Array) -> tuple[Array, ...]:
    """Pieces between two rows: cut at their own middle."""
    side = np.flatnonzero(np.isin(scene.mesh.pieces.side_piece, missed))
    owner = scene.mesh.pieces.side_piece[side]
    middle = (0.5 * low + 0.5 * high)[owner]
    z = np.stack([scene.side_a[side, 2], scene.side_b[side, 2]])
    crossing = (z.min(axis=0) <= middle) & (z.max(axis=0) > middle)
    side, middle = side[crossing], middle[crossing]
    owner, _, a, b = scene.paired(side, np.zeros(len(side), int), middle)
    return owner, 0.5 * (low + high)[owner], a, b, low[owner], high[owner]


def _with_nodes(
    scene: Scene, owner: Array, level: Array, area: Array, bottom: Array, top: Array, a: Array, b: Array
) -> Strips:
    pieces = scene.mesh.pieces
    curved = pieces.curved[owner]
    length = np.linalg.norm(b - a, axis=1)
    step = max(float(np.linalg.norm(scene.side_a.max(axis=0) - scene.side_a.min(axis=0))) / 40, 1e-6)
    few = np.clip(np.ceil(length / step), 1, FACET_NODES).astype(int)
    count = np.where(curved, few, len(ALONG))
    strip = np.repeat(np.arange(len(owner)), count)
    place = np.arange(len(strip)) - np.repeat(np.cumsum(count) - count, count)
    pull = np.minimum(PULL_MM / np.maximum(length, 1e-9), 0.25)[strip]
    plain = np.clip(ALONG[np.minimum(place, len(ALONG) - 1)], pull, 1 - pull)
    share = np.where(curved[strip], (place + 0.5) / count[strip], plain)
    p = a[strip] + share[:, None] * (b - a)[strip]
    normal = pieces.normal[owner[strip]] @ scene.axes
    slack = pieces.deviation[owner[strip]].copy()
    cap = np.full(len(strip), np.inf)
    _true_rounds(scene, pieces.face[owner[strip]], level[strip], p, normal, slack, cap)
    flat = np.maximum(np.linalg.norm(normal[:, :2], axis=1), 1e-12)
    nodes = Nodes(p, normal[:, :2] / flat[:, None], level[strip], slack)
    band = np.stack([bottom, top], axis=1)
    lean = np.clip(normal[:, 2], 0.0, 1.0)
    return Strips(pieces.face[owner], owner, level, area, band, a, b, nodes, strip, share, cap, lean)


def _true_rounds(scene: Scene, face: Array, level: Array, p: Array, normal: Array, slack: Array, cap: Array) -> None:
    """Nodes of cylinders and cones that stand along the direction are put onto the true surface; others get its normal."""
    for f in np.unique(face[slack > 0]):
        s = scene.mesh.snapshot.faces[f].surface
        k = np.flatnonzero(face == f)
        along = float(np.dot(s.axis, scene.d))
        if s.kind in ("cylinder", "cone") and abs(along) > 1 - UPRIGHT**2:
            origin = np.array(s.origin) @ scene.axes
            rel = p[k] - origin[:2]
            size = np.maximum(np.linalg.norm(rel, axis=1), 1e-9)
            radial = rel / size[:, None]
            radius = np.full(len(k), s.radius)
            if s.kind == "cone":
                radius = np.abs(s.radius + (level[k] - origin[2]) * along * np.tan(np.radians(s.half_angle)))
            p[k] = origin[:2] + radial * radius[:, None]
            normal[k, :2] = -radial if s.hollow else radial
            slack[k] = 0.0
            if s.hollow:
                cap[k] = radius
        elif s.kind in ("cylinder", "cone", "sphere", "torus"):
            points = np.column_stack([p[k], level[k]]) @ scene.axes.T
            true = s.normals_at(points) @ scene.axes
            ok = ~np.isnan(true[:, 0])
            normal[k[ok]] = true[ok]


def free_strips(scene: Scene, strips: Strips, segments: Segments, arcs: Arcs, reach: float) -> Array:
    """(n,) strips of plane faces before which nothing stands within reach: they need no nodes.

    An upright piece is asked as a whole, at its lowest level. The rest are asked one by one where they are few; else their
    nodes find out.
    """
    out = np.zeros(len(strips.face), bool)
    low, high = np.minimum(strips.a, strips.b), np.maximum(strips.a, strips.b)
    plane = ~scene.mesh.pieces.curved[strips.piece]
    upright = np.flatnonzero(plane & ~scene.leaning[strips.piece])
    if len(upright):
        _, first, at = np.unique(strips.piece[upright], return_index=True, return_inverse=True)
        first = upright[first]  # strips of a piece stand by level
        least, most = low[first].copy(), high[first].copy()
        np.minimum.at(least, at, low[upright])
        np.maximum.at(most, at, high[upright])
        out[upright] = ~_met(scene, strips, segments, arcs, first, least - reach, most + reach)[at]
    rest = np.flatnonzero(plane & ~out)
    if len(rest) * len(segments) <= MOST_PAIRS:
        out[rest] = ~_met(scene, strips, segments, arcs, rest, low[rest] - reach, high[rest] + reach)
    return out


def _met(scene: Scene, strips: Strips, segments: Segments, arcs: Arcs, k: Array, low: Array, high: Array) -> Array:
    """(n,) whether anything stands before strips k within boxes low to high (n, 2), at their level or higher."""
    normal = (scene.mesh.pieces.normal[strips.piece[k]] @ scene.axes)[:, :2]
    normal = normal / np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]
    level = strips.level[k]
    foot = (normal * strips.a[k]).sum(axis=1)[:, None] + PROUD
    row = np.searchsorted(scene.cut_tops, level, side="right")[:, None]
    s_low, s_high = np.minimum(segments.a, segments.b), np.maximum(segments.a, segments.b)
    met = np.zeros(len(k), bool)
    for start in range(0, len(k), 64):
        i = slice(start, start + 64)
        ahead = np.maximum(normal[i] @ segments.a.T, normal[i] @ segments.b.T) - segments.slack > foot[i]
        ahead &= (segments.top > level[i, None]) & ((segments.row < 0) | (segments.row >= row[i]))
        for axis in (0, 1):
            ahead &= (s_low[:, axis] < high[i, axis, None]) & (s_high[:, axis] > low[i, axis, None])
        met[i] = ahead.any(axis=1)
        ahead = (normal[i] @ arcs.centre.T + arcs.radius > foot[i]) & (arcs.top > level[i, None])
        for axis in (0, 1):
            ahead &= arcs.centre[:, axis] - arcs.radius < high[i, axis, None]
            ahead &= arcs.centre[:, axis] + arcs.radius > low[i, axis, None]
        met[i] |= ahead.any(axis=1)
    return met
