"""Bores: the hollow cylinder and cone faces of one axis and size, with the sector and the levels that they cover."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from functools import cached_property
from math import atan2, degrees

import numpy as np

from recognizer.graph import coaxial
from recognizer.rule import Context
from recognizer.snapshot import Surface, plane_axes
from recognizer.vector import dot, sub
from shared.units import Vector

FULL_DEG = 352.0
"""A sector this wide is a full turn: what is missing is a sliver that a crossing cut took."""
MORE_THAN_HALF_DEG = 184.0
"""A sharp-edged hollow cylinder wider than this cannot be left by a cutter from the side: it was bored."""


@dataclass
class Bore:
    """Faces of one surface; low and high are levels along `axis`, sector is the degrees covered round it."""

    ctx: Context
    surface: Surface
    faces: list[int]

    @property
    def axis(self) -> Vector:
        """Unit vector along the axis."""
        return self.surface.axis

    @cached_property
    def levels(self) -> tuple[float, float]:
        """Lowest and highest level along the axis."""
        return self.ctx.span(self.faces, self.axis)

    @cached_property
    def sector(self) -> float:
        """Degrees round the axis covered by some face at some level."""
        if any(self.ctx.faces[f].span > FULL_DEG for f in self.faces):
            return 360.0
        return _covered([arc for f in self.faces for arc in self._arcs(f)])

    def _arcs(self, face: int) -> list[tuple[float, float]]:
        x, y = plane_axes(self.axis)
        arcs = []
        for triangle in self.ctx.snapshot.facets.get(face, ()):
            a = [degrees(atan2(dot(r, y), dot(r, x))) for r in (sub(p, self.surface.origin) for p in triangle)]
            a = [v if v - a[0] < 180 else v - 360 for v in a]
            a = [v if a[0] - v < 180 else v + 360 for v in a]
            arcs.append((min(a), max(a)))
        return arcs

    @cached_property
    def tangent(self) -> bool:
        """A wall runs smoothly into it: a corner, an obround's end or a fillet, not a bore."""
        return any(sign == "smooth" and self._wall(n) for f in self.faces for n, _, sign in self.ctx.graph.links(f))

    def _wall(self, face: int) -> bool:
        """An upright plane, or a round wall about another axis: the end of an arc-shaped slot."""
        s = self.ctx.faces[face].surface
        if s.kind == "plane":
            return abs(dot(s.axis, self.axis)) < 0.5
        return s.kind == "cylinder" and abs(dot(s.axis, self.axis)) > 1 - 1e-6

    @property
    def bored(self) -> bool:
        """A full turn, or more than half a turn with sharp edges."""
        if sum(self.ctx.faces[f].span for f in self.faces) < MORE_THAN_HALF_DEG - 1:
            return False  # it covers no more than its faces do one by one
        return self.sector > FULL_DEG or (self.sector > MORE_THAN_HALF_DEG and not self.tangent and not self.flat)

    @cached_property
    def flat(self) -> bool:
        """A plane wall along the axis stands within its circle: a D-shaped hole, not a bore that is open at a side."""
        snap = self.ctx.snapshot
        return any(
            sign == "concave" and snap.edges[e].curve == "line" and self._wall(n)
            for f in self.faces
            for n, e, sign in self.ctx.graph.links(f)
        )

    def radius_at(self, level: float) -> float:
        """Radius at a level along the axis."""
        if self.surface.kind == "cylinder":
            return self.surface.radius
        from math import radians, tan

        rise = level - dot(self.surface.origin, self.axis)
        return max(0.0, self.surface.radius + rise * tan(radians(self.surface.half_angle)))


def _covered(arcs: list[tuple[float, float]]) -> float:
    """Degrees covered by arcs given as (from, to), each shorter than a turn."""
    flat = []
    for a, b in arcs:
        a, b = a % 360, a % 360 + (b - a)
        flat += [(a, min(b, 360.0))] + ([(0.0, b - 360)] if b > 360 else [])
    total, end = 0.0, 0.0
    for a, b in sorted(flat):
        if b > end:
            total += b - max(a, end)
            end = b
    return total


def bores(ctx: Context) -> list[Bore]:
    """All hollow cylinder and cone surfaces of the free faces, in face order."""
    groups: dict[int, list[int]] = defaultdict(list)
    for f in ctx.free():
        s = ctx.faces[f].surface
        if s.kind in ("cylinder", "cone") and s.hollow:
            groups[ctx.graph.group[f]].append(f)
    return [Bore(ctx, ctx.faces[p[0]].surface, p) for faces in groups.values() for p in _pieces(ctx, faces)]


def _pieces(ctx: Context, faces: list[int]) -> list[list[int]]:
    """Faces of one surface cut apart where nothing of them overlaps along the axis: what lies between may be solid."""
    axis = ctx.faces[faces[0]].surface.axis
    rows = sorted((*ctx.extent(f, axis), f) for f in faces)
    pieces: list[list[int]] = []
    end = 0.0
    for low, high, f in rows:
        if pieces and low < end + 2 * ctx.tol.length_mm:
            pieces[-1].append(f)
            end = max(end, high)
        else:
            pieces.append([f])
            end = high
    return [sorted(p) for p in pieces]


def axis_lines(found: list[Bore]) -> list[list[Bore]]:
    """Bores grouped by axis line, each line's bores turned to one axis direction by the first."""
    lines: list[list[Bore]] = []
    axes, origins = np.zeros((len(found), 3)), np.zeros((len(found), 3))
    for b in found:
        count = len(lines)
        near = _beside(axes[:count], origins[:count], b.surface)
        line = next((lines[k] for k in near if coaxial(lines[k][0].surface, b.surface)), None)
        if line is None:
            axes[count], origins[count] = b.surface.axis, b.surface.origin
            lines.append([b])
        else:
            line.append(b)
    return lines


def _beside(axes: np.ndarray, origins: np.ndarray, s: Surface) -> list[int]:
    """Which of the lines come within a tenth of a mm of a surface's origin."""
    rel = np.array(s.origin) - origins
    off = rel - axes * (rel * axes).sum(axis=1)[:, None]
    return np.flatnonzero((off * off).sum(axis=1) < 0.01).tolist()
