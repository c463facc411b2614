"""From the part's coordinates to its own frame, and the primitives that all kinds of feature build their bodies from."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import cos, pi, sin
from typing import Any

import numpy as np
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from recognizer.outline import Plane2, Point
from recognizer.removal.arcs import Circle, arc_points, disc, refined
from recognizer.removal.field import Field
from recognizer.removal.free_edges import smoothed
from recognizer.removal.revolve import Revolve
from recognizer.removal.solids import Half, Prism, Solid
from recognizer.removal.surfaces import bulge, out_of, swept
from recognizer.rule import Context
from recognizer.snapshot import plane_axes
from recognizer.vector import cross, dot, neg, sub, unit
from shared.units import Vector

SLABS = 12
"""Discs that stand for a body of revolution whose axis is askew to the frame."""


@dataclass
class Shop:
    """Makes solids in the frame of a part."""

    ctx: Context
    kept: dict[object, Any] = field(default_factory=dict)
    """What was worked out once for this part: projections by axis, outlines by face and direction."""

    def once(self, key: object, make: Callable[[], Any]) -> Any:
        """The value kept under a key, made where it is asked for first."""
        if key not in self.kept:
            self.kept[key] = make()
        return self.kept[key]

    @cached_property
    def low(self) -> Vector:
        """Lowest corner of the box."""
        return self.ctx.frame.low

    @cached_property
    def high(self) -> Vector:
        """Highest corner of the box."""
        return self.ctx.frame.high

    def turn(self, p: Vector) -> Vector:
        """Components of a point or vector along the frame's axes."""
        x, y, z = self.ctx.frame.axes
        return (dot(p, x), dot(p, y), dot(p, z))

    def turned(self, points: Sequence[Vector]) -> np.ndarray:
        """(n, 3): many points at once."""
        return np.array(points).reshape(-1, 3) @ np.array(self.ctx.frame.axes).T

    @cached_property
    def facets(self) -> tuple[np.ndarray, np.ndarray]:
        """(n, 3, 3) triangles of all curved faces, and (n,) the face of each."""
        found = [(f.index, self.ctx.snapshot.facet_arrays.get(f.index)) for f in self.ctx.faces]
        kept = [(f, q) for f, q in found if q is not None and len(q)]
        if not kept:
            return np.empty((0, 3, 3)), np.empty(0, dtype=int)
        triangles = np.concatenate([q for _, q in kept]) @ np.array(self.ctx.frame.axes).T
        return triangles, np.repeat([f for f, _ in kept], [len(q) for _, q in kept])

    def top_of_box(self, d: Vector) -> float:
        """Highest level of the box along a direction of the part's coordinates."""
        f = self.turn(d)
        return sum(max(f[k] * self.low[k], f[k] * self.high[k]) for k in range(3))

    def prism(self, d: Vector, region: BaseGeometry, low: float, high: float, halves: Iterable[Half] = ()) -> Prism:
        """Prism along d over a region given in `plane_axes(d)`."""
        u, v = plane_axes(d)
        return Prism(self.turn(d), self.turn(u), self.turn(v), region, low, high, tuple(halves))

    def half(self, n: Vector, c: float) -> Half:
        """Half-space n . p <= c."""
        return Half(self.turn(n), c)

    def circles(self, faces: Iterable[int], d: Vector) -> list[Circle]:
        """Circles of the faces' edges that run across d."""
        plane, out = Plane2(d), {}
        for e in {e for f in faces for e in self.ctx.snapshot.face_edges[f]}:
            edge = self.ctx.snapshot.edges[e]
            if edge.curve == "circle" and edge.centre and edge.axis and abs(dot(edge.axis, d)) > 1 - 1e-6:
                x, y = plane.at(edge.centre)
                out[(round(x, 4), round(y, 4), round(edge.radius, 4))] = Circle(x, y, edge.radius)
        return [out[k] for k in sorted(out)]

    def fine(self, region: BaseGeometry, faces: Iterable[int], d: Vector) -> BaseGeometry:
        """Region seen along d with the arcs of the faces made fine and exact in area, and their free curves fine."""
        faces = list(faces)
        return smoothed(refined(region, self.circles(faces, d)), self._curves(faces, d))

    def _curves(self, faces: Iterable[int], d: Vector) -> Iterable[np.ndarray]:
        """(n, 2) points across d of the faces' edges that are neither lines nor circles."""
        plane = Plane2(d)
        for e in sorted({e for f in faces for e in self.ctx.snapshot.face_edges[f]}):
            edge = self.ctx.snapshot.edges[e]
            if edge.curve not in ("line", "circle") and len(edge.points) > 3:
                yield np.array([plane.at(p) for p in edge.points])

    def cylinder(self, o: Vector, a: Vector, r: float, low: float, high: float) -> Prism:
        """Full cylinder about the line o + t a between two levels along a."""
        x, y = Plane2(a).at(o)
        return self.prism(a, disc(x, y, r), low, high)

    def revolved(
        self, o: Vector, a: Vector, profile: Polygon, sector: tuple[float, float] | None = None
    ) -> list[Solid]:
        """Body of revolution; profile in (level along a, radius). sector: (from, to) in radians about `plane_axes(a)`."""
        if profile.is_empty or profile.area < 1e-12:
            return []
        turn = 2 * pi
        halves: tuple[Half, ...] = ()
        if sector is not None:
            turn = sector[1] - sector[0]
            if turn > pi:  # two wedges
                middle = (sector[0] + sector[1]) / 2
                return [
                    s for part in ((sector[0], middle), (middle, sector[1])) for s in self.revolved(o, a, profile, part)
                ]
            halves = self._wedge(o, a, *sector)
        if max(abs(c) for c in self.turn(a)) > 1 - 1e-7:
            return [Revolve(self.turn(o), self.turn(a), profile, turn, halves)]
        return list(self._slabs(o, a, profile, halves))

    def _wedge(self, o: Vector, a: Vector, start: float, end: float) -> tuple[Half, ...]:
        u, v = plane_axes(a)
        out = []
        for t, sign in ((start, 1.0), (end, -1.0)):
            n = tuple(sign * (sin(t) * u[k] - cos(t) * v[k]) for k in range(3))
            out.append(self.half(n, dot(n, o)))  # type: ignore[arg-type]
        return tuple(out)

    def _slabs(self, o: Vector, a: Vector, profile: Polygon, halves: tuple[Half, ...]) -> Iterable[Prism]:
        x0, _, x1, _ = profile.bounds
        x, y = Plane2(a).at(o)
        step = (x1 - x0) / SLABS
        for i in range(SLABS):
            low = x0 + i * step
            cut = profile.intersection(Polygon([(low, -1), (low + step, -1), (low + step, 1e5), (low, 1e5)]))
            if cut.is_empty:
                continue
            # Pappus: the annulus of the slab's mean cross-section.
            area = 2 * pi * cut.area * cut.centroid.y / step
            inner = (
                max(0.0, cut.bounds[1] + (cut.bounds[3] - cut.bounds[1] - cut.area / step) / 2)
                if cut.bounds[1] > 1e-6
                else 0.0
            )
            ring = disc(x, y, (area / pi + inner * inner) ** 0.5)
            region = ring.difference(disc(x, y, inner)) if inner > 1e-6 else ring
            yield self.prism(a, region, low, low + step, halves)

    def sector(self, faces: Iterable[int], o: Vector, a: Vector) -> tuple[float, float] | None:
        """Angles that faces cover about an axis, or None for a full turn."""
        faces = list(faces)
        if any(self.ctx.faces[f].span > 359.5 for f in faces):
            return None
        u, v = plane_axes(a)
        rel = np.concatenate([self.points(f) for f in faces]) - np.array(o)
        x, y = rel @ np.array(u), rel @ np.array(v)
        off = np.hypot(x, y) > 1e-6  # on the axis no way is any more than another
        angles = np.unique(np.arctan2(y[off], x[off]).round(9))
        if not len(angles):
            return None
        gaps = np.append(angles[1:], angles[0] + 2 * pi) - angles
        widest = int(gaps.argmax())
        if gaps[widest] < 0.25:
            return None
        start = float(angles[(widest + 1) % len(angles)]) + (2 * pi if widest + 1 == len(angles) else 0.0)
        return start, start + 2 * pi - float(gaps[widest])

    def rim(self, face: int) -> list[Vector]:
        """Points of a face's edges."""
        return [p for e in self.ctx.snapshot.face_edges[face] for p in self.ctx.snapshot.edges[e].points]

    def points(self, face: int) -> np.ndarray:
        """(n, 3) points of a face's edges, and the corners of its facets."""
        rim = np.array(self.rim(face)).reshape(-1, 3)
        curved = face in self.ctx.snapshot.facet_arrays
        return np.concatenate([rim, self.ctx.snapshot.corners(face)]) if curved else rim

    def meridian(self, face: int, a: Vector) -> list[tuple[float, float]]:
        """(level along a, radius) of a coaxial cone, torus or sphere from its highest to its lowest end."""
        s = self.ctx.faces[face].surface
        straight = s.kind in ("cone", "cylinder")
        rel = (np.array(self.rim(face)) if straight else self.points(face)) - np.array(s.origin)
        t = rel @ np.array(a)
        r = np.sqrt(np.maximum(0.0, (rel * rel).sum(axis=1) - t * t))
        base = dot(s.origin, a)
        if straight:
            rows = list(zip(t.tolist(), r.tolist(), strict=True))
            (h1, r1), (h0, r0) = max(rows), min(rows)
            return [(base + h1, r1), (base + h0, r0)]
        tube = s.major_radius if s.kind == "torus" else 0.0
        low, high = swept(np.arctan2(t, r - tube))
        arc = arc_points((0.0, tube), s.radius, pi / 2 - high, pi / 2 - low)
        out = [(base + x, max(0.0, r)) for x, r in arc]
        return out if out[0][0] >= out[-1][0] else out[::-1]

    def facet_solids(self, face: int, d: Vector, level: float, above: bool) -> list[Solid]:
        """Columns over (or, not above, under) a curved face's facets, from the face to a level along d.

        Each facet's plane is moved by its mean gap to the surface, so that the volume is that of the surface.
        """
        plane = Plane2(d)
        triangles, base = [], []
        normals = self.ctx.snapshot.normals.get(face, ())
        for k, t in enumerate(self.ctx.snapshot.facets.get(face, ())):
            n = cross(sub(t[1], t[0]), sub(t[2], t[0]))
            rise = dot(n, d)
            flat = [plane.at(p) for p in t]
            if abs(rise) < 1e-9:  # seen edge-on
                continue
            n = unit(n if rise > 0 else neg(n))
            gap = bulge(t, normals[k], n) if normals else self._gap(face, t, n)
            lift = gap / max(0.05, dot(n, d))
            triangles.append(flat)
            base.append([dot(p, d) + lift for p in t])
        if not triangles:
            return []
        levels = np.array(base)
        levels = np.minimum(levels, level) if above else np.maximum(levels, level)
        if max(abs(c) for c in self.turn(d)) > 1 - 1e-7:
            u, v = plane_axes(d)
            return [Field(self.turn(d), self.turn(u), self.turn(v), np.array(triangles), levels, level, above)]
        return self._askew(d, triangles, levels, level, above)

    def _askew(
        self, d: Vector, triangles: list[list[Point]], base: np.ndarray, level: float, above: bool
    ) -> list[Solid]:
        """The same along a direction that is none of the frame's: a prism with a level end for each triangle."""
        out: list[Solid] = []
        for t, b in zip(triangles, base.mean(axis=1), strict=True):
            low, high = (float(b), level) if above else (level, float(b))
            if high > low:
                out.append(self.prism(d, Polygon(t), low, high))
        return out

    def _gap(self, face: int, t: tuple[Vector, Vector, Vector], n: Vector) -> float:
        """Mean signed distance along n from a facet to its surface: mean over the edges' middles, exact to second order."""
        s = self.ctx.faces[face].surface
        total = 0.0
        for a, b in ((t[0], t[1]), (t[1], t[2]), (t[2], t[0])):
            m = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2)
            normal = s.normal_at(m)
            off = out_of(s, m)
            if normal is None or off is None:
                return 0.0
            way = 1.0 if dot(normal, n) > 0 else -1.0
            total += way * off * (-1.0 if s.hollow else 1.0)
        return total / 3


__all__ = ["Shop"]
