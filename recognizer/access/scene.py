"""The part as directions see it: all that can stop a cutter, as segments and arcs with a top level.

The material above a level h, seen along d, is bounded by the part's edges above h, by the outlines of curved faces and by
the cut through leaning faces at h. An obstacle with top level t stops a cutter whose tip is below t.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np

from recognizer.access.levels import FOOT_MM, LEVEL_MM, Levels
from recognizer.access.obstacles import Arcs, Segments, joined
from recognizer.access.roles import ALWAYS, NONE, ROW, UPRIGHT, rises_of, roles_of
from recognizer.access.turned import arcs_of_cuts, turned_faces

Array = np.ndarray
FLAT_MM = 1e-3
"""An edge that rises by less lies level."""


class Scene(Levels):
    """Obstacles of all tiles."""

    @property
    def deviation(self) -> float:
        """Largest distance of what was measured from the true faces and curves."""
        curves = self.mesh.chords.kind == 2
        off = float(self.mesh.chords.deviation[curves].max(initial=0.0))
        return max(off, float(self.pieces.deviation[self.leaning].max(initial=0.0)))

    @property
    def inexact(self) -> set[int]:
        """Curved faces of the part that lean here: taken by their facets."""
        return set((self.pieces.face[self.leaning & self.pieces.curved] % self.part_faces).tolist())

    @cached_property
    def arcs(self) -> Arcs:
        """Circular edges across their direction, exactly."""
        c = self.circles
        centre = c.centre

        def angle(p: Array) -> Array:
            return np.arctan2(p[:, 1] - centre[:, 1], p[:, 0] - centre[:, 0])

        mid = angle(c.middle)
        # The middle point may lie off the middle: half the span is measured on both sides of the true middle.
        one, two = ((angle(p) - mid + np.pi) % (2 * np.pi) - np.pi for p in (c.start, c.end))
        half = np.where(c.full, np.pi, (np.abs(one) + np.abs(two)) / 2)
        top = self._raised(centre[:, 2], c.edge)
        role = self._edge_role[c.edge]
        row = np.where(role == ROW, self._row_of(top), -1)
        found = Arcs(centre[:, :2], c.radius, mid + (one + two) / 2, half, top, self._face(c.edge), row)
        return joined(found.some(np.flatnonzero(role != NONE)), self._sliced[1])

    @cached_property
    def upright(self) -> Array:
        """Which faces stand along the direction as a whole."""
        return ~self.of_faces(self.pieces.face[np.abs(self.cosine) > UPRIGHT])

    @cached_property
    def _rises(self) -> Array:
        """How steeply each chord's faces rise from it."""
        return rises_of(self)

    @cached_property
    def _roles(self) -> Array:
        """What each chord stops."""
        return roles_of(self, self.upright, self._rises)

    @cached_property
    def _edge_role(self) -> Array:
        """What each edge stops: the most that any of its chords does."""
        order = np.array([0, 2, 1])  # NONE, ROW, ALWAYS by weight
        weight = np.zeros(len(self.edge_faces), int)
        np.maximum.at(weight, self.chords.edge, order[self._roles])
        return np.array([NONE, ROW, ALWAYS])[weight]

    def _row_of(self, top: Array) -> Array:
        """The row of cuts in which tips just below a level lie."""
        return np.searchsorted(self.cut_tops, top, side="left")

    @cached_property
    def segments(self) -> Segments:
        """Everything else that can be in the way, but for what lies hidden under more material."""
        found = [self._lines(), self._curves(), self._outlines(), self._sliced[0]]
        return Segments(*(np.concatenate([f[k] for f in found]) for k in range(7)))

    def _face(self, edge: Array) -> Array:
        """Of an edge's two faces the one that stands up: what a cutter runs into."""
        pair = self.edge_faces[edge]
        return np.where(self._upness[pair[:, 0]] <= self._upness[pair[:, 1]], pair[:, 0], pair[:, 1])

    @cached_property
    def _upness(self) -> Array:
        """How much each face looks along d, 0 to 1; curved faces by their mean facet."""
        p = self.pieces
        out = np.bincount(p.face, np.abs(self.cosine) * p.area, self.faces)
        weight = np.bincount(p.face, p.area, self.faces)
        return out / np.where(weight > 0, weight, 1.0)

    def _lines(self) -> tuple[Array, ...]:
        """Straight edges."""
        return self._edges(np.flatnonzero(self.chords.kind == 0))

    def _edges(self, k: Array) -> tuple[Array, ...]:
        chords, role = self.chords, self._roles[k]
        # A slanted edge between faces that look up is in their cuts already.
        kept = (role == ALWAYS) | ((role == ROW) & (np.abs(chords.b[k, 2] - chords.a[k, 2]) < FLAT_MM))
        k, role = k[kept], role[kept]
        a, b, edge = chords.a[k], chords.b[k], chords.edge[k]
        top = self._raised(np.maximum(a[:, 2], b[:, 2]), edge)
        row = np.where(role == ROW, self._row_of(top), -1)
        return a[:, :2], b[:, :2], top, self._face(edge), chords.deviation[k], row, b[:, 2] - a[:, 2]

    def _raised(self, top: Array, edge: Array) -> Array:
        """Tops of edges from which a leaning face rises: just above the edge its cut lies on the edge."""
        pair = self.edge_faces[edge]
        rises = self._leans_up[pair] & (self.tops[pair] > top[:, None] + LEVEL_MM) & ~self._falls[edge]
        return np.where(rises.any(axis=1), top + 2 * FOOT_MM, top)

    @cached_property
    def _falls(self) -> Array:
        """(edges, 2) which of an edge's faces fall from it wherever it is."""
        out = np.ones((len(self.edge_faces), 2), bool)
        falls = self._rises < -UPRIGHT
        same = self.named(self.mesh.sides.face, self.part_faces) == self.edge_faces[self.chords.edge]
        np.logical_and.at(out, self.chords.edge, np.where(same, falls, falls[:, ::-1]))
        return out

    @cached_property
    def _leans_up(self) -> Array:
        """Which faces have a piece that leans towards the direction."""
        return self.of_faces(self.pieces.face[self.leaning_up])

    def _curves(self) -> tuple[Array, ...]:
        """Chords of all other curves, and of circles that do not lie across d."""
        across = np.zeros(len(self.edge_faces), bool)
        across[self.circles.edge] = True
        return self._edges(np.flatnonzero((self.chords.kind > 0) & ~across[self.chords.edge]))

    def _outlines(self) -> tuple[Array, ...]:
        """Where a curved face turns its back: sides between a facet that looks up and one that looks down."""
        pieces = self.pieces
        up = self.cosine[pieces.side_piece] >= -UPRIGHT
        one, two = pieces.inner.T
        k = one[up[one] != up[two]]
        a, b, owner = pieces.side_a[k], pieces.side_b[k], pieces.side_piece[k]
        top = np.maximum(a[:, 2], b[:, 2])
        row = np.full(len(k), -1)
        return a[:, :2], b[:, :2], top, pieces.face[owner], pieces.deviation[owner], row, b[:, 2] - a[:, 2]

    @cached_property
    def turned_about(self) -> dict[int, tuple[float, float]]:
        """Leaning faces that turn about their direction: see `turned_faces`."""
        return turned_faces(self, self.pieces.face[self.leaning_up])

    @cached_property
    def _sliced(self) -> tuple[tuple[Array, ...], Arcs]:
        """Cuts through pieces that lean upwards at the rows' levels, each from the row below it up to its own: segments, and
        those of faces that turn about the direction as circles.
        """
        owner, row, a, b, off = self.slices(np.flatnonzero(self.leaning_up), self.cut_levels)
        face, off = self.pieces.face[owner], np.maximum(self.pieces.deviation[owner], off)
        spans = self.turned_about
        turned = self.of_faces(np.array(list(spans), int))[face]
        k, t = np.flatnonzero(~turned), np.flatnonzero(turned)
        straight = (a[k], b[k], self.cut_tops[row[k]], face[k], off[k], row[k], np.zeros(len(k)))
        return straight, arcs_of_cuts(self, spans, (owner[t], row[t], a[t], b[t]))
