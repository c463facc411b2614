"""Faces cut into level strips with nodes along them: where a cutter's contact with a standing or leaning face is asked.

A strip is the cut of a piece of a face at the middle of a band; it stands for the band's share of the face's area. What is
found at its nodes is taken as straight between them: exact beside straight and parallel walls.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from recognizer.access.near import counting
from recognizer.access.obstacles import Nodes
from recognizer.access.roles import UPRIGHT
from recognizer.access.scene import Scene
from recognizer.access.turned import is_exact, radius_at

Array = np.ndarray
ALONG = np.array([0.0, 0.01, 0.03, 0.07, 0.14, 0.24, 0.37, 0.5, 0.63, 0.76, 0.86, 0.93, 0.97, 0.99, 1.0])
"""Nodes along a strip of a plane face, as shares of its length: closer at the ends, where corners are."""
FACET_NODES = 7
"""Most nodes along a strip of a facet; they stand a fortieth of the part apart."""
PULL_MM = 1e-3
"""End nodes stand this far inside their strip, so that a corner has two sides."""


MOST_AT_ONCE = 1_000_000
"""So many values at nodes are measured in one pass."""


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
        """(n,) or (m, n) share of each strip on which a value at the nodes is at least zero, straight between nodes.

        good: (k,) or (m, k) signed values.
        """
        if good.ndim == 2 and good.size > MOST_AT_ONCE:
            return np.array([self.measured(row) for row in good])
        lead, inner, width, before, after = self._weights
        if not len(lead):
            return np.zeros((*good.shape[:-1], len(self.face)))
        on = good >= 0
        part = before * on
        part[..., lead[1:] - 1] += after[lead[1:] - 1] * on[..., lead[1:] - 1]
        part[..., -1] += after[-1] * on[..., -1]
        one, two = on[..., inner - 1], on[..., inner]
        share = (one & two).astype(float)
        mixed = np.nonzero(one != two)
        at = (*mixed[:-1], inner[mixed[-1]])
        first, second = good[(*mixed[:-1], inner[mixed[-1]] - 1)], good[at]
        share[mixed] = np.maximum(first, second) / np.abs(first - second)
        part[..., inner] += width * share
        total = np.zeros((*good.shape[:-1], len(self.face)))
        total[..., self.strip[lead]] = np.add.reduceat(part, lead, axis=-1)
        return np.clip(total, 0.0, 1.0)

    @cached_property
    def runs(self) -> tuple[Array, Array]:
        """First node of each strip that has any, and how many it has."""
        lead = (
            np.flatnonzero(np.concatenate([[True], self.strip[1:] != self.strip[:-1]]))
            if len(self.strip)
            else self.strip
        )
        return lead, np.diff(np.append(lead, len(self.strip)))

    def inside(self, least: float) -> Array:
        """(k, 2) ways from the nodes to where they stand at least so far (mm) from the ends of their strips."""
        way = (self.b - self.a)[self.strip]
        length = np.maximum(np.sqrt((way**2).sum(axis=1)), 1e-12)
        pull = np.minimum(least / length, 0.25)
        return (np.clip(self.share, pull, 1 - pull) - self.share)[:, None] * way

    def walls(self, first: Array, count: Array) -> tuple[Array, ...]:
        """(ends a, b, normal, level, how many nodes) of the strips of plane faces that begin with these nodes."""
        k = self.strip[first]
        return self.a[k], self.b[k], self.nodes.n[first], self.level[k], count

    @cached_property
    def _weights(self) -> tuple[Array, ...]:
        """First node of each strip that has any, nodes that have one before them, their distance to it, and what lies before
        the first and after the last node: there the value is theirs.
        """
        same = self.strip[1:] == self.strip[:-1]
        lead, _ = self.runs
        inner = np.flatnonzero(same) + 1
        before, after = np.zeros(len(self.strip)), np.zeros(len(self.strip))
        if len(lead):
            last = np.append(lead[1:], len(self.strip)) - 1
            before[lead], after[last] = self.share[lead], 1 - self.share[last]
        return lead, inner, self.share[inner] - self.share[inner - 1], before, after


def strips_of(scene: Scene) -> Strips:
    """Strips of every piece that is not square to the direction and does not turn its back on it."""
    pieces = scene.pieces
    wanted = (np.abs(scene.cosine) < 1 - UPRIGHT**2) & (scene.cosine > -UPRIGHT) & ~scene.buried_piece
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
    facet = np.flatnonzero(pieces.curved[owner])
    size[facet] = np.maximum(_between(scene, owner[facet], bottom[facet], top[facet]), 1e-12)
    whole = np.bincount(owner, size, len(pieces.face))
    area = size / np.where(whole[owner] > 0, whole[owner], 1.0) * pieces.area[owner]
    order = np.lexsort((level, owner, pieces.face[owner]))
    return _with_nodes(scene, *(x[order] for x in (owner, level, area, bottom, top, a, b)))


def _between(scene: Scene, facet: Array, bottom: Array, top: Array) -> Array:
    """(n,) share of each facet's area that lies between two levels: below a level it grows as the square from either tip."""
    first = np.searchsorted(scene.pieces.side_piece, facet)
    low, middle, high = np.sort(scene.pieces.side_a[first[:, None] + np.arange(3), 2], axis=1).T

    def below(level: Array) -> Array:
        rise, fall = np.clip(level - low, 0.0, middle - low), np.clip(high - level, 0.0, high - middle)
        under = rise**2 / np.maximum((middle - low) * (high - low), 1e-18)
        over = fall**2 / np.maximum((high - middle) * (high - low), 1e-18)
        return np.where(level <= middle, under, 1 - over)

    return below(top) - below(bottom)


def _standing(scene: Scene, chosen: Array, low: Array, high: Array) -> tuple[Array, ...]:
    """Upright pieces cut in bands between those levels at which something begins or ends near their face; finer where
    something leans before it.
    """
    merged, bands, (band, middle) = scene.merged, scene.wall_bands, scene.band_of_wall
    levels = bands.mean(axis=1)

    def wanted(face: Array, row: Array) -> Array:
        return merged.fine[face, band[row]] | (merged.chosen[face, band[row]] & middle[row])

    owner, row, a, b, _ = scene.slices(chosen, levels, wanted)
    face = scene.pieces.face[owner]
    at, (first, last) = (face, band[row]), bands[row].T
    bottom = np.maximum(np.where(merged.fine[at], first, merged.bottom[at]), low[owner])
    top = np.minimum(np.where(merged.fine[at], last, merged.top[at]), high[owner])
    return owner, levels[row], a, b, bottom, top


def _cut(scene: Scene, chosen: Array, bands: Array, low: Array, high: Array) -> tuple[Array, ...]:
    """Pieces cut in the middle of the bands that they cross: (piece, level, start, end, bottom, top)."""
    levels = bands.mean(axis=1)
    owner, row, a, b, _ = scene.slices(chosen, levels)
    return owner, levels[row], a, b, np.maximum(bands[row, 0], low[owner]), np.minimum(bands[row, 1], high[owner])


def _thin(scene: Scene, missed: Array, low: Array, high: Array) -> tuple[Array, ...]:
    """Pieces between two rows: cut at their own middle."""
    side = np.flatnonzero(np.isin(scene.pieces.side_piece, missed))
    owner = scene.pieces.side_piece[side]
    middle = (0.5 * low + 0.5 * high)[owner]
    z = np.stack(scene.side_levels)[:, side]
    crossing = (z.min(axis=0) <= middle) & (z.max(axis=0) > middle)
    side, middle = side[crossing], middle[crossing]
    owner, _, a, b, _ = scene.paired(side, np.zeros(len(side), int), middle)
    return owner, 0.5 * (low + high)[owner], a, b, low[owner], high[owner]


def _with_nodes(
    scene: Scene, owner: Array, level: Array, area: Array, bottom: Array, top: Array, a: Array, b: Array
) -> Strips:
    pieces = scene.pieces
    curved = pieces.curved[owner]
    length = np.linalg.norm(b - a, axis=1)
    few = np.clip(np.ceil(length / _steps(scene)[pieces.face[owner] // scene.part_faces]), 1, FACET_NODES).astype(int)
    count = np.where(curved, few, len(ALONG))
    strip = np.repeat(np.arange(len(owner)), count)
    place = counting(count)
    pull = np.minimum(PULL_MM / np.maximum(length, 1e-9), 0.25)[strip]
    plain = np.clip(ALONG[np.minimum(place, len(ALONG) - 1)], pull, 1 - pull)
    share = np.where(curved[strip], (place + 0.5) / count[strip], plain)
    p = a[strip] + share[:, None] * (b - a)[strip]
    normal = pieces.normal[owner[strip]]
    slack = pieces.deviation[owner[strip]]
    cap = np.full(len(strip), np.inf)
    _true_rounds(scene, pieces.face[owner[strip]], level[strip], p, normal, slack, cap)
    flat = np.maximum(np.sqrt(normal[:, 0] ** 2 + normal[:, 1] ** 2), 1e-12)
    nodes = Nodes(p, normal[:, :2] / flat[:, None], level[strip], slack)
    band = np.stack([bottom, top], axis=1)
    lean = np.clip(normal[:, 2], 0.0, 1.0)
    return Strips(pieces.face[owner], owner, level, area, band, a, b, nodes, strip, share, cap, lean)


def _steps(scene: Scene) -> Array:
    """(tiles,) distance of nodes along facets: a fortieth of the part."""
    corners = scene.pieces.side_a.reshape(scene.count, -1, 3)
    return np.maximum(np.linalg.norm(corners.max(axis=1) - corners.min(axis=1), axis=1) / 40, 1e-6)


def _true_rounds(scene: Scene, face: Array, level: Array, p: Array, normal: Array, slack: Array, cap: Array) -> None:
    """Nodes of faces that turn about the direction are put onto the true surface; others of known shape get its normal."""
    first = np.flatnonzero(np.concatenate([[True], face[1:] != face[:-1]])) if len(face) else face
    for start, stop in zip(first.tolist(), [*first[1:].tolist(), len(face)], strict=True):
        if slack[start] <= 0:
            continue
        k, f = slice(start, stop), int(face[start])
        s, tile = scene.face(f).surface, scene.tile(f)
        along = float(np.dot(s.axis, scene.d[tile]))
        round_about = s.kind in ("cylinder", "cone") and abs(along) > 1 - UPRIGHT**2
        if round_about or (is_exact(s) and f in scene.turned_about):
            origin = np.array(s.origin) @ scene.axes[tile] + scene.shift[tile]
            rel = p[k] - origin[:2]
            size = np.maximum(np.sqrt(rel[:, 0] ** 2 + rel[:, 1] ** 2), 1e-9)
            radial = rel / size[:, None]
            outward = (normal[k, :2] * radial).sum(axis=1) > 0
            rise = (level[k] - origin[2]) * (-1.0 if along < 0 else 1.0)
            radius = radius_at(s, rise, outward)
            p[k] = origin[:2] + radial * radius[:, None]
            if s.kind in ("cylinder", "cone"):
                outward = np.full(stop - start, not s.hollow)
                normal[k, :2] = np.where(outward[:, None], radial, -radial)
            else:
                normal[k] = _own_normals(scene, f, p[k], level[k], normal[k])
            slack[k] = 0.0
            cap[k] = np.where(outward, np.inf, radius)
        elif s.kind in ("cylinder", "cone", "sphere", "torus"):
            normal[k] = _own_normals(scene, f, p[k], level[k], normal[k])


def _own_normals(scene: Scene, face: int, p: Array, level: Array, facets: Array) -> Array:
    """(n, 3) normals of a face's own surface at places in its tile; the facets' where it has none."""
    tile = scene.tile(face)
    points = (np.column_stack([p, level]) - scene.shift[tile]) @ scene.axes[tile].T
    true = scene.face(face).surface.normals_at(points) @ scene.axes[tile]
    return np.where(np.isnan(true[:, :1]), facets, true)
