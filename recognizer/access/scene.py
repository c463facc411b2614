"""The part as one direction sees it: levels, and all that can stop a cutter, as segments and arcs with a top level.

The material above a level h, seen along d, is bounded by the part's edges above h, by the outlines of curved faces and by
the cut through leaning faces at h. An obstacle with top level t stops a cutter whose tip is below t.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely import STRtree

from recognizer.access.mesh import Mesh
from recognizer.access.near import counting
from recognizer.access.obstacles import Arcs, Segments, joined
from recognizer.access.roles import ALWAYS, NONE, ROW, UPRIGHT, roles_of
from recognizer.access.turned import arcs_of_cuts, turned_faces
from recognizer.snapshot import plane_axes
from shared.units import Vector

Array = np.ndarray
LEVEL_MM = 0.01
"""Levels closer than this are one."""
FOOT_MM = 1e-4
"""A cutter on a floor is looked at this far above it, so that the foot of a leaning wall is in its way."""
BANDS = 48
"""Most bands between levels; beyond that neighbouring levels are taken together, and the document says how far apart."""
LEAN_ROWS = 12
"""Rows over the whole height where anything leans."""
FLAT_MM = 1e-3
"""An edge that rises by less lies level."""
PLANE_ROWS = 10
"""Rows over the height of the lowest leaning plane."""
MOST_ROWS = 80
"""Most rows over the whole height for leaning planes."""
MORE_LEVELS = 150
"""Most levels between rows at which leaning pieces are cut; beyond, neighbouring levels are taken together, upwards."""
FEW_BREAKS = 7
"""So few levels are all looked at on every face."""
NEAR_MM = 25.0
"""Edges nearer to a face than this count for its bands."""


@dataclass(frozen=True)
class Merged:
    """By (face, band): whether the band stands for its group, and bottom and top of the group."""

    chosen: Array
    bottom: Array
    top: Array


@dataclass
class Scene:
    """One direction: `d`, axes `u` and `v` across it, `rows` (levels that are looked at) with their `bands` (n, 2)."""

    mesh: Mesh
    d: Vector

    def __post_init__(self) -> None:
        self.u, self.v = plane_axes(self.d)
        self.axes = np.array([self.u, self.v, self.d]).T
        pieces, chords = self.mesh.pieces, self.mesh.chords
        self.cosine = pieces.normal @ np.array(self.d)
        self.cosine[np.isin(pieces.face, self._standing_cylinders())] = 0.0  # whatever its facets' corners say
        self.chord_a, self.chord_b = chords.a @ self.axes, chords.b @ self.axes
        self.side_a, self.side_b = pieces.side_a @ self.axes, pieces.side_b @ self.axes
        self.low = float(min(self.side_a[:, 2].min(), self.chord_a[:, 2].min()))
        self.high = float(max(self.side_a[:, 2].max(), self.chord_a[:, 2].max()))

    def _standing_cylinders(self) -> list[int]:
        """Cylinder faces whose axis runs along the direction."""
        found = [f for f in self.mesh.snapshot.faces if f.kind == "cylinder"]
        if not found:
            return []
        along = np.abs(np.array([f.surface.axis for f in found]) @ np.array(self.d))
        return [f.index for f, c in zip(found, along.tolist(), strict=True) if c > 1 - UPRIGHT**2]

    @cached_property
    def tops(self) -> Array:
        """Highest level of each face."""
        out = np.full(len(self.mesh.snapshot.faces), -np.inf)
        np.maximum.at(out, self.mesh.pieces.face[self.mesh.pieces.side_piece], self.side_a[:, 2])
        return out

    @cached_property
    def leaning(self) -> Array:
        """Which pieces lean: neither upright nor square to d."""
        size = np.abs(self.cosine)
        return (size > UPRIGHT) & (size < 1 - UPRIGHT**2)

    @cached_property
    def breaks(self) -> Array:
        """Levels at which the material above may change: ends of straight edges, levels of circles across d, in order."""
        lines = self.mesh.chords.kind == 0
        z = np.concatenate([self.chord_a[lines, 2], self.chord_b[lines, 2], self._circles()[0][:, 2]])
        z = np.sort(np.concatenate([z, [self.low, self.high]]))
        z = z[np.concatenate([[True], np.diff(z) > LEVEL_MM])]
        step = LEVEL_MM
        while len(z) > BANDS:
            step = max(2 * step, (self.high - self.low) / (8 * BANDS))
            z = z[np.concatenate([[True], np.diff(np.round((z - self.low) / step)) > 0])]
        return z if len(z) > 1 else np.array([self.low, max(self.high, self.low + LEVEL_MM)])

    @cached_property
    def bands(self) -> Array:
        """(n, 2) bottom and top of each band between breaks."""
        return np.stack([self.breaks[:-1], self.breaks[1:]], axis=1)

    @cached_property
    def fine_bands(self) -> Array:
        """(n, 2) for what leans: bands cut into an odd number, so that the middles of bands are among the finer middles."""
        return self._cut_finer((self.high - self.low) / LEAN_ROWS) if self.leaning.any() else self.bands

    @cached_property
    def plane_bands(self) -> Array:
        """(n, 2) for leaning planes: so fine that the lowest of them is cut into some ten."""
        planes = np.flatnonzero(self.leaning & ~self.mesh.pieces.curved & (self.cosine > 0))
        if not len(planes):
            return self.bands
        low, high = self.spans
        height = float((high - low)[planes].min())
        whole = self.high - self.low
        return self._cut_finer(max(min(height / PLANE_ROWS, whole / LEAN_ROWS), whole / MOST_ROWS))

    def _cut_finer(self, step: float) -> Array:
        """The bands cut into an odd number each, no higher than about a step."""
        step = max(step, LEVEL_MM)
        cuts = [np.linspace(a, b, 2 * int((b - a) / (2 * step)) + 2)[:-1] for a, b in self.bands]
        fine = np.concatenate([*cuts, self.breaks[-1:]])
        return np.stack([fine[:-1], fine[1:]], axis=1)

    @cached_property
    def rows(self) -> Array:
        """Levels in the middle of the finer bands, and hence of the bands."""
        return self.fine_bands.mean(axis=1)

    @property
    def spacing(self) -> float:
        """Height of the finest bands that leaning faces are cut into; 0 where nothing leans."""
        return float((self.fine_bands[:, 1] - self.fine_bands[:, 0]).max()) if self.leaning.any() else 0.0

    @property
    def deviation(self) -> float:
        """Largest distance of what was measured from the true faces and curves."""
        curves = self.mesh.chords.kind == 2
        off = float(self.mesh.chords.deviation[curves].max(initial=0.0))
        return max(off, float(self.mesh.pieces.deviation[self.leaning].max(initial=0.0)))

    @property
    def inexact(self) -> set[int]:
        """Curved faces that lean here: taken by their facets."""
        return set(self.mesh.pieces.face[self.leaning & self.mesh.pieces.curved].tolist())

    def _circles(self) -> tuple[Array, Array]:
        """(centres in (u, v, level), which circles lie across d)."""
        c = self.mesh.circles
        across = np.abs(np.abs(c.axis @ np.array(self.d)) - 1) < UPRIGHT**2
        return (c.centre @ self.axes)[across], across

    @cached_property
    def arcs(self) -> Arcs:
        """Circular edges across d, exactly."""
        c = self.mesh.circles
        centre, across = self._circles()
        start, end, middle = (p[across] @ self.axes for p in (c.start, c.end, c.middle))

        def angle(p: Array) -> Array:
            return np.arctan2(p[:, 1] - centre[:, 1], p[:, 0] - centre[:, 0])

        mid = angle(middle)
        ends = [np.abs((angle(p) - mid + np.pi) % (2 * np.pi) - np.pi) for p in (start, end)]
        # The middle point may lie off the middle: half the span is measured on both sides of the true middle.
        one = (angle(start) - mid + np.pi) % (2 * np.pi) - np.pi
        two = (angle(end) - mid + np.pi) % (2 * np.pi) - np.pi
        half = np.where(c.full[across], np.pi, (ends[0] + ends[1]) / 2)
        edge = c.edge[across]
        top = self._raised(centre[:, 2], edge)
        role = self._edge_role[edge]
        row = np.where(role == ROW, self._row_of(top), -1)
        found = Arcs(centre[:, :2], c.radius[across], mid + (one + two) / 2, half, top, self._face(edge), row)
        return joined(found.some(np.flatnonzero(role != NONE)), self._sliced[1])

    @cached_property
    def upright(self) -> Array:
        """Which faces stand along the direction as a whole."""
        out = np.ones(len(self.mesh.snapshot.faces), bool)
        out[self.mesh.pieces.face[np.abs(self.cosine) > UPRIGHT]] = False
        return out

    @cached_property
    def _roles(self) -> Array:
        """What each chord stops."""
        return roles_of(self.mesh.sides, self.upright, np.array(self.d))

    @cached_property
    def _edge_role(self) -> Array:
        """What each edge stops: the most that any of its chords does."""
        out = np.full(len(self.mesh.edge_faces), NONE)
        order = np.array([0, 2, 1])  # NONE, ROW, ALWAYS by weight
        weight = np.zeros(len(out), int)
        np.maximum.at(weight, self.mesh.chords.edge, order[self._roles])
        out[:] = np.array([NONE, ROW, ALWAYS])[weight]
        return out

    def _row_of(self, top: Array) -> Array:
        """The row of cuts in which tips just below a level lie."""
        return np.searchsorted(self.cut_tops, top, side="left")

    @cached_property
    def segments(self) -> Segments:
        """Everything else that can be in the way, but for what lies hidden under more material."""
        found = [self._lines(), self._curves(), self._outlines(), self._cuts()]
        return Segments(*(np.concatenate([f[k] for f in found]) for k in range(7)))

    def _face(self, edge: Array) -> Array:
        """Of an edge's two faces the one that stands up: what a cutter runs into."""
        pair = self.mesh.edge_faces[edge]
        return np.where(self._upness[pair[:, 0]] <= self._upness[pair[:, 1]], pair[:, 0], pair[:, 1])

    @cached_property
    def _upness(self) -> Array:
        """How much each face looks along d, 0 to 1; curved faces by their mean facet."""
        out = np.zeros(len(self.mesh.snapshot.faces))
        weight = np.zeros_like(out)
        np.add.at(out, self.mesh.pieces.face, np.abs(self.cosine) * self.mesh.pieces.area)
        np.add.at(weight, self.mesh.pieces.face, self.mesh.pieces.area)
        return out / np.where(weight > 0, weight, 1.0)

    def _lines(self) -> tuple[Array, ...]:
        """Straight edges."""
        chords = self.mesh.chords
        return self._edges(np.flatnonzero(chords.kind == 0))

    def _edges(self, k: Array) -> tuple[Array, ...]:
        chords = self.mesh.chords
        a, b = self.chord_a[k], self.chord_b[k]
        role = self._roles[k]
        # A slanted edge between faces that look up is in their cuts already.
        kept = (role == ALWAYS) | ((role == ROW) & (np.abs(b[:, 2] - a[:, 2]) < FLAT_MM))
        k, a, b, role = k[kept], a[kept], b[kept], role[kept]
        top = self._raised(np.maximum(a[:, 2], b[:, 2]), chords.edge[k])
        off = chords.deviation[k]
        return (
            a[:, :2],
            b[:, :2],
            top,
            self._face(chords.edge[k]),
            off,
            np.where(role == ROW, self._row_of(top), -1),
            b[:, 2] - a[:, 2],
        )

    def _raised(self, top: Array, edge: Array) -> Array:
        """Tops of edges from which a leaning face rises: just above the edge its cut lies on the edge."""
        pair = self.mesh.edge_faces[edge]
        rises = self._leans_up[pair] & (self.tops[pair] > top[:, None] + LEVEL_MM)
        return np.where(rises.any(axis=1), top + 2 * FOOT_MM, top)

    @cached_property
    def _leans_up(self) -> Array:
        """Which faces have a piece that leans towards the direction."""
        out = np.zeros(len(self.mesh.snapshot.faces), bool)
        out[self.mesh.pieces.face[self.leaning & (self.cosine > 0)]] = True
        return out

    def _curves(self) -> tuple[Array, ...]:
        """Chords of all other curves, and of circles that do not lie across d."""
        chords = self.mesh.chords
        across = np.zeros(len(self.mesh.edge_faces), bool)
        across[self.mesh.circles.edge[self._circles()[1]]] = True
        return self._edges(np.flatnonzero((chords.kind > 0) & ~across[chords.edge]))

    def _outlines(self) -> tuple[Array, ...]:
        """Where a curved face turns its back: sides between a facet that looks up and one that looks down."""
        pieces = self.mesh.pieces
        up = self.cosine[pieces.side_piece] >= -UPRIGHT
        one, two = self.mesh.pieces.inner.T
        k = one[up[one] != up[two]]
        a, b, owner = self.side_a[k], self.side_b[k], pieces.side_piece[k]
        top = np.maximum(a[:, 2], b[:, 2])
        return (
            a[:, :2],
            b[:, :2],
            top,
            pieces.face[owner],
            pieces.deviation[owner],
            np.full(len(k), -1),
            b[:, 2] - a[:, 2],
        )

    def _cuts(self) -> tuple[Array, ...]:
        """Cuts through pieces that lean upwards at the rows' levels; each counts from the row below it up to its own."""
        return self._sliced[0]

    @cached_property
    def _sliced(self) -> tuple[tuple[Array, ...], Arcs]:
        """The cuts as segments, and those of faces that turn about the direction as circles."""
        pieces = np.flatnonzero(self.leaning & (self.cosine > 0))
        owner, row, a, b = self.slices(pieces, self.cut_levels)
        face, off = self.mesh.pieces.face[owner], self.mesh.pieces.deviation[owner]
        spans = turned_faces(self.mesh, self.axes)
        turned = np.isin(face, list(spans))
        k, t = np.flatnonzero(~turned), np.flatnonzero(turned)
        straight = (a[k], b[k], self.cut_tops[row[k]], face[k], off[k], row[k], np.zeros(len(k)))
        round_ = arcs_of_cuts(self.mesh, self.axes, spans, (owner[t], row[t], a[t], b[t]), self.cut_tops)
        return straight, round_

    @cached_property
    def rows_of_bands(self) -> Array:
        """The level in the middle of each band."""
        return self.bands.mean(axis=1)

    @cached_property
    def merged(self) -> Merged:
        """Bands taken together for each face where nothing near it begins or ends between them."""
        count = len(self.breaks)
        keep = np.ones((len(self.mesh.snapshot.faces), count), bool)
        if count > FEW_BREAKS:
            keep = self._kept_breaks()
        index = np.arange(count)
        below = np.maximum.accumulate(np.where(keep, index, 0), axis=1)[:, :-1]
        above = np.minimum.accumulate(np.where(keep, index, count - 1)[:, ::-1], axis=1)[:, ::-1][:, 1:]
        bottom, top = self.breaks[below], self.breaks[above]
        middle = (bottom + top) / 2
        return Merged((self.breaks[:-1] <= middle) & (middle < self.breaks[1:]), bottom, top)

    def _kept_breaks(self) -> Array:
        """(faces, breaks) whether an edge near the face's box begins, ends or lies at the break."""
        faces = self.mesh.pieces.face[self.mesh.pieces.side_piece]
        count = len(self.mesh.snapshot.faces)
        low, high = np.full((count, 2), np.inf), np.full((count, 2), -np.inf)
        np.minimum.at(low, faces, self.side_a[:, :2])
        np.maximum.at(high, faces, self.side_a[:, :2])
        a, b = self.chord_a, self.chord_b
        lines = np.minimum(a, b)[:, :2], np.maximum(a, b)[:, :2]
        tree = STRtree(shapely.box(lines[0][:, 0], lines[0][:, 1], lines[1][:, 0], lines[1][:, 1]))
        ok = np.flatnonzero(np.isfinite(low[:, 0]))
        near = shapely.box(*(low[ok] - NEAR_MM).T, *(high[ok] + NEAR_MM).T)
        face, chord = tree.query(near)
        keep = np.zeros((count, len(self.breaks)), bool)
        keep[:, [0, -1]] = True
        for z in (a[chord, 2], b[chord, 2]):
            keep[ok[face], _nearest(self.breaks, z)] = True
        return keep

    @cached_property
    def spans(self) -> tuple[Array, Array]:
        """Lowest and highest level of each piece."""
        n = len(self.mesh.pieces.face)
        low, high = np.full(n, np.inf), np.full(n, -np.inf)
        z = np.stack([self.side_a[:, 2], self.side_b[:, 2]])
        np.minimum.at(low, self.mesh.pieces.side_piece, z.min(axis=0))
        np.maximum.at(high, self.mesh.pieces.side_piece, z.max(axis=0))
        return low, high

    @cached_property
    def cut_levels(self) -> Array:
        """Rows, and the middles of leaning pieces between two rows: wherever a leaning face is asked, all are cut."""
        low, high = self.spans
        first, last = np.searchsorted(self.rows, low, "right"), np.searchsorted(self.rows, high, "right")
        thin = (low + high)[self.leaning & (self.cosine > 0) & (first == last)] / 2
        levels, step = np.unique(np.round(thin, 4)), 1e-4
        while len(levels) > MORE_LEVELS:
            step = max(2 * step, (self.high - self.low) / (4 * MORE_LEVELS))
            levels = np.unique(np.ceil(thin / step) * step)
        return np.unique(np.concatenate([self.rows, self.plane_bands.mean(axis=1), levels]))

    @cached_property
    def cut_tops(self) -> Array:
        """Below which level each cut counts: its own, and a hair."""
        return self.cut_levels + FOOT_MM

    def slices(self, pieces: Array, levels: Array, allowed: Array | None = None) -> tuple[Array, Array, Array, Array]:
        """Cuts of pieces at levels: (piece, index of level, start (n, 2), end (n, 2)) of each straight cut.

        allowed: (faces, levels), which levels are wanted of which face.
        """
        wanted = np.zeros(len(self.mesh.pieces.face), bool)
        wanted[pieces] = True
        side = np.flatnonzero(wanted[self.mesh.pieces.side_piece])
        lo = np.minimum(self.side_a[side, 2], self.side_b[side, 2])
        hi = np.maximum(self.side_a[side, 2], self.side_b[side, 2])
        first, last = np.searchsorted(levels, lo, "right"), np.searchsorted(levels, hi, "right")
        count = np.maximum(last - first, 0)
        k = np.repeat(side, count)
        row = np.repeat(first, count) + counting(count)
        if allowed is not None:
            wanted = allowed[self.mesh.pieces.face[self.mesh.pieces.side_piece[k]], row]
            k, row = k[wanted], row[wanted]
        return self.paired(k, row, levels[row] if len(row) else np.empty(0))

    def paired(self, side: Array, row: Array, level: Array) -> tuple[Array, Array, Array, Array]:
        """Crossings of sides with levels, joined two by two along the cut of their piece."""
        owner = self.mesh.pieces.side_piece[side]
        a, b = self.side_a[side], self.side_b[side]
        share = (level - a[:, 2]) / np.where(b[:, 2] == a[:, 2], 1.0, b[:, 2] - a[:, 2])
        p = a[:, :2] + share[:, None] * (b[:, :2] - a[:, :2])
        normal = self.mesh.pieces.normal[owner] @ self.axes
        s = -normal[:, 1] * p[:, 0] + normal[:, 0] * p[:, 1]
        order = np.lexsort((s, row, owner))
        owner, row, p = owner[order], row[order], p[order]
        # Crossings of one piece at one level come in pairs; an odd one (a level that grazes a corner) is left out.
        key = owner.astype(np.int64) * (int(row.max()) + 1 if len(row) else 1) + row
        start = np.concatenate([[True], np.diff(key) != 0]) if len(key) else np.empty(0, bool)
        place = (
            np.arange(len(key)) - np.maximum.accumulate(np.where(start, np.arange(len(key)), 0)) if len(key) else key
        )
        lead = np.flatnonzero(place % 2 == 0)
        lead = lead[lead + 1 < len(key)]
        lead = lead[key[lead] == key[lead + 1]]
        return owner[lead], row[lead], p[lead], p[lead + 1]


def _nearest(levels: Array, z: Array) -> Array:
    """Index of the level nearest to each z."""
    at = np.clip(np.searchsorted(levels, z), 1, len(levels) - 1)
    return np.where(z - levels[at - 1] < levels[at] - z, at - 1, at)
