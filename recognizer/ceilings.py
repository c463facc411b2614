"""What is in the way of a region seen along a direction: faces that turn their back on it, higher up.

Above free space, material can only begin at a face whose outward normal points away from d. So the blocked part of a
region is the union of the projections of such faces that lie higher than the region's floor: exact for plane faces,
within the facets' chord error (0.1 mm, 0.2 rad) for curved ones.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon, unary_union
from shapely.geometry.base import BaseGeometry

from recognizer.outline import Plane2, Region, face_polygon
from recognizer.rule import Context
from recognizer.tilts import FLAT, tilts
from recognizer.vector import dot
from shared.units import Vector

FINE = 1e-6
"""Mm to which points are rounded where facets cannot be united as they are."""


class Ceilings:
    """All faces that turn their back on one direction; their projections are made when something lies under them."""

    def __init__(self, ctx: Context, d: Vector) -> None:
        self.ctx, self.d, self.plane = ctx, d, Plane2(d)
        under = np.flatnonzero(tilts(ctx, d)[0] < -FLAT * 10)
        self.faces = under.tolist()
        levels = [np.array(side)[under] for w in (d, self.plane.u, self.plane.v) for side in ctx.snapshot.levels(w)]
        self.high = levels[1]
        self.bounds = np.stack(levels[2:], axis=1)
        self.polygons: dict[int, BaseGeometry] = {}
        self.facets: dict[int, tuple[np.ndarray, np.ndarray, np.ndarray]] = {}

    def over(self, area: Region, floor: float, own: frozenset[int]) -> tuple[float, list[int]]:
        """(blocked share, blocking faces) of a region whose lowest level is `floor`; own faces do not block."""
        slack = 4 * self.ctx.tol.length_mm
        near = [f for f in self._near(area, floor + slack) if f not in own]
        if not near:
            return 0.0, []
        region = area.region
        near = [f for f in near if self._meets(f, floor + slack, region)]
        if not near:
            return 0.0, []
        inner = region.buffer(-slack)
        pieces, faces = [], []
        for f in near:
            if not self._meets(f, floor + slack, inner):
                continue
            piece = self._above(f, floor + slack, region.bounds).intersection(inner)
            if piece.area > self.ctx.tol.share * 0.05 * region.area and self._level(f, piece) > floor + slack:
                pieces.append(piece)
                faces.append(f)
        if not pieces:
            return 0.0, []
        return unary_union(pieces).area / region.area, faces

    def _near(self, region: Region, level: float) -> list[int]:
        if not self.faces or region.is_empty or region.area < 1e-9:
            return []
        x0, y0, x1, y1 = region.bounds
        b = self.bounds
        hit = (self.high > level) & (b[:, 0] < x1) & (b[:, 1] > x0) & (b[:, 2] < y1) & (b[:, 3] > y0)
        return [self.faces[k] for k in np.flatnonzero(hit)]

    def _meets(self, face: int, level: float, region: BaseGeometry) -> bool:
        """Whether anything of a ceiling's projection lies in a region: cheaper to tell than how much."""
        shapely.prepare(region)  # not only quicker: it does not mind outlines that cross themselves
        if self.ctx.faces[face].kind == "plane":
            return bool(shapely.intersects(region, self._polygon(face)))
        triangles = self._facets_above(face, level, region.bounds)
        return len(triangles) > 0 and bool(shapely.intersects(region, triangles).any())

    def _above(self, face: int, level: float, box: tuple[float, float, float, float]) -> BaseGeometry:
        """Projection of a ceiling, of a curved one only the facets near a box that reach above a level."""
        if self.ctx.faces[face].kind == "plane":
            return self._polygon(face)
        near = self._facets_above(face, level, box)
        try:
            return unary_union(near)
        except shapely.GEOSException:  # slivers of a sloppy model
            return shapely.union_all(near, grid_size=FINE)

    def _polygon(self, face: int) -> BaseGeometry:
        """Projection of a plane face."""
        if face not in self.polygons:
            self.polygons[face] = face_polygon(self.ctx, face, self.plane)
        return self.polygons[face]

    def _facets_above(self, face: int, level: float, box: tuple[float, float, float, float]) -> np.ndarray:
        """Triangles of a curved face's facets near a box, as far as they reach above a level."""
        if face not in self.facets:
            self.facets[face] = self._curved(face)
        triangles, boxes, levels = self.facets[face]
        if not len(triangles):
            return triangles
        x0, y0, x1, y1 = boxes
        near = (levels.max(axis=1) > level) & (x0 < box[2]) & (x1 > box[0]) & (y0 < box[3]) & (y1 > box[1])
        found, cut = triangles[near], levels[near].min(axis=1) < level
        if cut.any():  # a cone's facets are as long as the cone is high
            found = found.copy()
            found[cut] = [_raised(t, z, level) for t, z in zip(found[cut], levels[near][cut], strict=True)]
        return found

    def _curved(self, face: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """(n,) triangles, (4, n) boxes and (n, 3) levels of the corners of the facets that turn their back on the direction."""
        none = np.array([]), np.empty((4, 0)), np.empty((0, 3))
        corners = self.ctx.snapshot.facet_arrays.get(face)
        if corners is None or not len(corners):
            return none
        d, u, v = (np.array(w) for w in (self.d, self.plane.u, self.plane.v))
        back = ~(self.ctx.snapshot.facet_normals[face] @ d >= -0.02)  # nan: unknown, so it may be in the way
        corners = corners[back]
        if not len(corners):
            return none
        triangles = shapely.polygons(np.stack((corners @ u, corners @ v), axis=-1))
        real = shapely.area(triangles) > 1e-9
        return triangles[real], shapely.bounds(triangles[real]).T, (corners @ d)[real]

    def _level(self, face: int, piece: BaseGeometry) -> float:
        """Highest level of a ceiling over a piece: exact on planes, the face's own highest on curved faces."""
        s = self.ctx.faces[face].surface
        if s.kind != "plane":
            return self.ctx.extent(face, self.d)[1]
        flat = self.plane.back(piece.representative_point().coords[0], 0.0)
        return (s.offset - dot(flat, s.axis)) / dot(self.d, s.axis)


def _raised(triangle: Polygon, levels: np.ndarray, level: float) -> Polygon:
    """The part of a triangle above a level."""
    corners = list(zip(shapely.get_coordinates(triangle)[:3].tolist(), levels.tolist(), strict=True))
    out = []
    for (p, a), (q, b) in zip(corners, corners[1:] + corners[:1], strict=True):
        if a >= level:
            out.append(p)
        if (a >= level) != (b >= level):
            t = (level - a) / (b - a)
            out.append([p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])])
    return Polygon(out) if len(out) > 2 else Polygon()


def ceilings(ctx: Context, d: Vector) -> Ceilings:
    """Ceilings along d, kept with the context: they are asked for by many features."""
    key = tuple(round(c, 6) for c in d)
    store = ctx.__dict__.setdefault("_ceilings", {})
    if key not in store:
        store[key] = Ceilings(ctx, d)
    return store[key]
