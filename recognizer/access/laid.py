"""The part seen along several directions at once: each direction has a tile of one plane, and levels of its own.

What is asked of a tile never reaches another one, so all directions go through one pass of arrays. Names of faces, pieces,
edges and sides are those of the mesh plus the tile's number times how many of them there are.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from recognizer.access.buried import buried
from recognizer.access.mesh import Chords, Circles, Mesh, Pieces
from recognizer.access.roles import UPRIGHT
from recognizer.snapshot import Face, plane_axes
from shared.units import Vector

Array = np.ndarray


class Laid:
    """Tiles of a mesh: `axes` (k, 3, 3) with columns u, v and d of each direction, `shift` (k, 3) what is added there."""

    def __init__(self, mesh: Mesh, directions: Sequence[Vector], reach: float) -> None:
        """reach: mm beside the part within which something is asked; tiles stand farther apart."""
        self.mesh, self.directions = mesh, directions
        self.count, self.part_faces = len(directions), len(mesh.snapshot.faces)
        self.faces = self.count * self.part_faces
        self.axes = np.array([[*plane_axes(d), d] for d in directions]).transpose(0, 2, 1)
        self.d = self.axes[:, :, 2]
        corners = mesh.pieces.side_a
        size = float(np.linalg.norm(corners.max(axis=0) - corners.min(axis=0)))
        # Whole powers of two, so that coordinates lose nothing but their last digits.
        step = 2.0 ** np.ceil(np.log2(2 * size + 8 * reach))
        self.shift = np.arange(self.count)[:, None] * np.array([step, 0.0, step])

    def turned(self, vectors: Array) -> Array:
        """(k n, 3) vectors (n, 3) in (u, v, level) of each direction, without the tiles' shift."""
        x, y, z = (vectors[None, :, i, None] for i in range(3))
        a = self.axes[:, None]
        return (x * a[:, :, 0] + y * a[:, :, 1] + z * a[:, :, 2]).reshape(-1, 3)

    def along(self, vectors: Array) -> Array:
        """(k n,) how far vectors (n, 3) go along each direction."""
        x, y, z = (vectors[None, :, i] for i in range(3))
        d = self.d[:, None]
        return (x * d[:, :, 0] + y * d[:, :, 1] + z * d[:, :, 2]).ravel()

    def placed(self, points: Array) -> Array:
        """(k n, 3) points (n, 3) in (u, v, level) of each direction, each in its tile."""
        return (self.turned(points).reshape(self.count, -1, 3) + self.shift[:, None]).reshape(-1, 3)

    def back(self, face: Array, points: Array) -> Array:
        """(n, 3) the part's own coordinates of points (n, 3) in the tiles of faces (n,)."""
        k = face // self.part_faces
        return self.unturned(k, points - self.shift[k])

    def unturned(self, k: Array, vectors: Array) -> Array:
        """(n, 3) vectors of tiles k (n,) in the part's own coordinates."""
        a = self.axes[k]
        return a[:, :, 0] * vectors[:, :1] + a[:, :, 1] * vectors[:, 1:2] + a[:, :, 2] * vectors[:, 2:]

    def face(self, name: int) -> Face:
        """The part's face of that name."""
        return self.mesh.snapshot.faces[name % self.part_faces]

    def tile(self, name: int) -> int:
        """The tile that a face's name belongs to."""
        return name // self.part_faces

    def named(self, index: Array, many: int) -> Array:
        """(k n, ...) names of indices (n, ...) in all tiles; many: how many of them the part has."""
        each = np.arange(self.count).reshape(-1, *[1] * index.ndim) * many
        return (each + index).reshape(-1, *index.shape[1:])

    def each(self, values: Array) -> Array:
        """(k n,) the same values in every tile."""
        return np.tile(values, (self.count, *[1] * (values.ndim - 1)))

    @cached_property
    def pieces(self) -> Pieces:
        """The mesh's pieces; normals in (u, v, level)."""
        p = self.mesh.pieces
        return Pieces(
            self.named(p.face, self.part_faces),
            self.turned(p.normal),
            self.each(p.area),
            self.each(p.deviation),
            self.each(p.curved),
            self.named(p.side_piece, len(p.face)),
            self.placed(p.side_a),
            self.placed(p.side_b),
            self.each(p.side_off),
            self.named(p.inner, len(p.side_piece)),
        )

    @cached_property
    def chords(self) -> Chords:
        """The mesh's chords."""
        c = self.mesh.chords
        edge = self.named(c.edge, len(self.mesh.edge_faces))
        return Chords(self.placed(c.a), self.placed(c.b), edge, self.each(c.kind), self.each(c.deviation))

    @cached_property
    def edge_faces(self) -> Array:
        """(n, 2) the two faces of each edge."""
        return self.named(self.mesh.edge_faces, self.part_faces)

    @cached_property
    def circles(self) -> Circles:
        """Circular edges across their direction."""
        c = self.mesh.circles
        k = np.flatnonzero(np.abs(np.abs(self.along(c.axis)) - 1) < UPRIGHT**2)
        edge = self.named(c.edge, len(self.mesh.edge_faces))[k]
        points = (self.placed(p)[k] for p in (c.centre, c.start, c.end, c.middle))
        centre, start, end, middle = points
        return Circles(
            centre, self.turned(c.axis)[k], self.each(c.radius)[k], edge, start, end, middle, self.each(c.full)[k]
        )

    @cached_property
    def cosine(self) -> Array:
        """Of each piece's normal with its direction; 0 on what stands along it, whatever the facets' corners say: cylinders, and
        free forms by their own normals.
        """
        out = self.pieces.normal[:, 2].copy()
        out[self.of_faces(self._standing_cylinders)[self.pieces.face]] = 0.0
        piece, normals = self.mesh.free_forms
        if len(piece):
            along = np.abs(self.along(normals.reshape(-1, 3))).reshape(-1, 3)
            out[self.named(piece, len(self.mesh.pieces.face))[(along <= UPRIGHT).all(axis=1)]] = 0.0
        return out

    @cached_property
    def buried(self) -> Array:
        """(faces,) of faces of which nothing is to be seen along their direction, without looking, the face in the way; else -1."""
        return buried(self)

    @cached_property
    def buried_piece(self) -> Array:
        """Which pieces are those of such faces."""
        return self.buried[self.pieces.face] >= 0

    def of_faces(self, names: Array) -> Array:
        """(faces,) which faces are among these names."""
        out = np.zeros(self.faces, bool)
        out[names] = True
        return out

    @cached_property
    def _standing_cylinders(self) -> Array:
        found = [f for f in self.mesh.snapshot.faces if f.kind == "cylinder"]
        if not found:
            return np.empty(0, int)
        axis = np.array([f.surface.axis for f in found])
        along = np.abs(self.along(axis))
        return self.named(np.array([f.index for f in found]), self.part_faces)[along > 1 - UPRIGHT**2]

    @cached_property
    def boxes(self) -> tuple[Array, Array]:
        """(faces, 3) lowest and highest (u, v, level) of each face."""
        face = self.pieces.face[self.pieces.side_piece]
        low, high = np.full((self.faces, 3), np.inf), np.full((self.faces, 3), -np.inf)
        for axis in range(3):
            np.minimum.at(low[:, axis], face, self.pieces.side_a[:, axis])
            np.maximum.at(high[:, axis], face, self.pieces.side_a[:, axis])
        return low, high

    @cached_property
    def low(self) -> Array:
        """(k,) lowest level of each tile."""
        return self._ends.min(axis=1)

    @cached_property
    def high(self) -> Array:
        """(k,) highest level of each tile."""
        return self._ends.max(axis=1)

    @cached_property
    def _ends(self) -> Array:
        """(k, n) levels of all that has any."""
        points = (self.pieces.side_a, self.chords.a)
        return np.concatenate([p[:, 2].reshape(self.count, -1) for p in points], axis=1)

    def tile_at(self, level: Array) -> Array:
        """(n,) the tile that levels belong to."""
        middle = (self.high[:-1] + self.low[1:]) / 2
        return np.searchsorted(middle, level)

    def high_at(self, level: Array) -> Array:
        """(n,) highest level of the part in the tile that a level belongs to."""
        return self.high[self.tile_at(level)]
