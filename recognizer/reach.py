"""What is in the way of a region seen along a direction: faces that turn their back on it, higher up.

Above free space, material can only begin at a face whose outward normal points away from d. So the blocked part of a
region is the union of the projections of such faces that lie higher than the region's floor: exact for plane faces,
within the facets' chord error (0.1 mm, 0.2 rad) for curved ones.
"""

from __future__ import annotations

from dataclasses import dataclass

from shapely import STRtree, unary_union
from shapely.geometry.base import BaseGeometry

from recognizer.bodies import FLAT, tilt
from recognizer.outline import Plane2, face_polygon
from recognizer.rule import Context
from recognizer.vector import dot
from shared.units import Vector


@dataclass(frozen=True)
class Ceiling:
    """A face that turns its back on the direction: its projection and its levels."""

    face: int
    polygon: BaseGeometry
    low: float
    high: float


class Ceilings:
    """All ceilings of the part along one direction, found once."""

    def __init__(self, ctx: Context, d: Vector) -> None:
        self.ctx, self.d = ctx, d
        plane = Plane2(d)
        self.items = [c for f in ctx.faces if (c := _ceiling(ctx, f.index, d, plane)) is not None]
        self.tree = STRtree([c.polygon for c in self.items]) if self.items else None

    def over(self, region: BaseGeometry, floor: float, own: frozenset[int]) -> tuple[float, list[int]]:
        """(blocked share, blocking faces) of a region whose lowest level is `floor`; own faces do not block."""
        if self.tree is None or region.is_empty or region.area < 1e-9:
            return 0.0, []
        slack = 4 * self.ctx.tol.length_mm
        inner = region.buffer(-slack)
        pieces, faces = [], []
        for k in sorted(self.tree.query(inner)):
            c = self.items[k]
            if c.high <= floor + slack or c.face in own:
                continue
            piece = c.polygon.intersection(inner)
            if piece.area > self.ctx.tol.share * 0.05 * region.area and self._level(c, piece) > floor + slack:
                pieces.append(piece)
                faces.append(c.face)
        if not pieces:
            return 0.0, []
        return unary_union(pieces).area / region.area, faces

    def _level(self, c: Ceiling, piece: BaseGeometry) -> float:
        """Highest level of a ceiling over a piece: exact on planes, the face's own highest on curved faces."""
        s = self.ctx.faces[c.face].surface
        if s.kind != "plane":
            return c.high
        plane = Plane2(self.d)
        q = piece.representative_point().coords[0]
        flat = plane.back(q, 0.0)
        return (s.offset - dot(flat, s.axis)) / dot(self.d, s.axis)


def _ceiling(ctx: Context, face: int, d: Vector, plane: Plane2) -> Ceiling | None:
    f = ctx.faces[face]
    low_tilt, _ = tilt(ctx, face, d)
    if low_tilt > -FLAT * 10:
        return None
    low, high = ctx.extent(face, d)
    if f.kind == "plane":
        return Ceiling(face, face_polygon(ctx, face, plane), low, high)
    return _curved_ceiling(ctx, face, d, plane, high)


def _curved_ceiling(ctx: Context, face: int, d: Vector, plane: Plane2, high: float) -> Ceiling | None:
    from shapely import Polygon

    s = ctx.faces[face].surface
    parts = []
    for t in ctx.snapshot.facets.get(face, ()):
        middle = tuple(sum(p[k] for p in t) / 3 for k in range(3))
        n = s.normal_at(middle)  # type: ignore[arg-type]
        if n is None or dot(n, d) < -0.02:
            polygon = Polygon([plane.at(p) for p in t])
            if polygon.area > 1e-9:
                parts.append(polygon)
    if not parts:
        return None
    return Ceiling(face, unary_union(parts), *ctx.extent(face, d))


def ceilings(ctx: Context, d: Vector) -> Ceilings:
    """Ceilings along d, kept with the context: they are asked for by many features."""
    key = tuple(round(c, 6) for c in d)
    store = ctx.__dict__.setdefault("_ceilings", {})
    if key not in store:
        store[key] = Ceilings(ctx, d)
    return store[key]
