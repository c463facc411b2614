"""The part as plain frozen records: everything after the kernel reads these and nothing else.

Lengths in mm, angles in degrees unless a name says otherwise. Normals point out of the material.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from math import cos, radians, sin

import numpy as np

from recognizer.edge_points import EdgePoints
from recognizer.facets import Corners, Facets
from recognizer.levels import Levels
from recognizer.vector import add, along, cross, dot, scale, sub, unit
from shared.units import Vector

Triangles = Mapping[int, Corners]
"""Facets of faces."""


@dataclass(frozen=True)
class Surface:
    """A surface's kind and what defines it.

    kind: plane, cylinder, cone, sphere, torus, or the name of a free form (bspline, bezier, revolution, ...).
    origin: a point of a plane, on an axis, or a centre. axis: plane's outward normal, or the axis direction.
    radius: cylinder, sphere, torus (tube), cone (at origin). major_radius: torus.
    half_angle: of a cone, degrees, positive where the radius grows along the axis.
    hollow: the outward normal points towards the axis or centre: the material is outside, as in a hole.
    """

    kind: str
    origin: Vector = (0.0, 0.0, 0.0)
    axis: Vector = (0.0, 0.0, 1.0)
    radius: float = 0.0
    major_radius: float = 0.0
    half_angle: float = 0.0
    hollow: bool = False

    @cached_property
    def offset(self) -> float:
        """Signed distance of a plane from the coordinate origin along its normal."""
        return dot(self.origin, self.axis)

    def normal_at(self, p: Vector) -> Vector | None:
        """Outward unit normal at a point of the surface, or None on free forms and on an axis."""
        if self.kind == "plane":
            return self.axis
        rel = sub(p, self.origin)
        try:
            if self.kind == "sphere":
                n = unit(rel)
            elif self.kind in ("cylinder", "cone", "torus"):
                n = self._axial_normal(rel)
            else:
                return None
        except ZeroDivisionError:
            return None
        return scale(n, -1.0) if self.hollow else n

    def _axial_normal(self, rel: Vector) -> Vector:
        radial = unit(sub(rel, scale(self.axis, dot(rel, self.axis))))
        if self.kind == "cylinder":
            return radial
        if self.kind == "cone":
            a = radians(self.half_angle)
            return sub(scale(radial, cos(a)), scale(self.axis, sin(a)))
        return unit(sub(rel, scale(radial, self.major_radius)))

    def normals_at(self, points: np.ndarray) -> np.ndarray:
        """(n, 3) outward unit normals at (n, 3) points of the surface; nan on free forms and on an axis."""
        if self.kind == "plane":
            return np.tile(self.axis, (len(points), 1))
        if self.kind not in ("cylinder", "cone", "sphere", "torus"):
            return np.full(points.shape, np.nan)
        rel, axis = points - np.array(self.origin), np.array(self.axis)
        radial = rel if self.kind == "sphere" else _units(rel - np.outer(rel @ axis, axis))
        if self.kind == "cone":
            a = radians(self.half_angle)
            radial = radial * cos(a) - axis * sin(a)
        elif self.kind == "torus":
            radial = rel - radial * self.major_radius
        normals = _units(radial)
        return -normals if self.hollow else normals


def _units(vectors: np.ndarray) -> np.ndarray:
    size = np.sqrt((vectors**2).sum(axis=1))
    return vectors / np.where(size > 0, size, np.nan)[:, None]


@dataclass(frozen=True)
class Face:
    """A face: its surface and its loops of edges, each edge with True where the loop runs along its curve."""

    index: int
    surface: Surface
    loops: tuple[tuple[tuple[int, bool], ...], ...]
    area: float
    step_id: int | None = None
    span: float = 0.0
    """Degrees that a cylinder, cone or torus face covers round its axis; 360 is a full turn."""

    @property
    def kind(self) -> str:
        """Kind of its surface."""
        return self.surface.kind


@dataclass(frozen=True)
class Edge:
    """An edge between two faces (the same one twice at a seam).

    points: polyline along the curve, arcs in chords of 10 degrees at most.
    bend: signed degrees between the outward normals at its middle: + convex, - concave, 0 smooth or unknown.
    """

    index: int
    curve: str
    points: tuple[Vector, ...]
    length: float
    faces: tuple[int, ...]
    bend: float
    seam: bool = False
    degenerate: bool = False
    centre: Vector | None = None
    axis: Vector | None = None
    radius: float = 0.0
    tangent: Vector = (0.0, 0.0, 0.0)

    @property
    def start(self) -> Vector:
        """First point of the curve."""
        return self.points[0]

    @property
    def end(self) -> Vector:
        """Last point of the curve."""
        return self.points[-1]

    @property
    def middle(self) -> Vector:
        """A point about half way along."""
        k = len(self.points) // 2
        if len(self.points) % 2:
            return self.points[k]
        return scale(add(self.points[k - 1], self.points[k]), 0.5)


@dataclass(frozen=True)
class Snapshot:
    """One solid, read once. `facets` holds triangles of the curved faces only: {face: ((a, b, c), ...)}.

    normals: outward unit normals at the corners of free forms' facets, zero where the surface has none.
    """

    faces: tuple[Face, ...]
    edges: tuple[Edge, ...]
    volume: float
    unit: str = "mm"
    step_schema: str = ""
    solids: int = 1
    loose_faces: int = 0
    facets: Triangles = field(default_factory=dict)
    normals: Triangles = field(default_factory=dict)

    def levels(self, d: Vector) -> tuple[list[float], list[float]]:
        """Lowest and highest level of every face along d: exact on planes, cylinders and cones, within the chords' error
        on other curves and the facets' error on other faces.
        """
        if d not in self._levels:
            opposite = self._levels.get((-d[0], -d[1], -d[2]))
            self._levels[d] = _turned(opposite) if opposite else self._levels_of.along(d)
        return self._levels[d]

    @cached_property
    def plane_normals(self) -> tuple[np.ndarray, np.ndarray]:
        """(n,) indices of the plane faces, and (3, n) their outward normals as columns."""
        planes = [f for f in self.faces if f.kind == "plane"]
        axes = np.array([f.surface.axis for f in planes]).reshape(-1, 3)
        return np.array([f.index for f in planes], dtype=int), np.ascontiguousarray(axes.T)

    def span(self, d: Vector) -> tuple[float, float]:
        """Lowest and highest level of the whole part along d."""
        low, high = self.levels(d)
        return min(low), max(high)

    @cached_property
    def _levels(self) -> dict[Vector, tuple[list[float], list[float]]]:
        return {}

    @cached_property
    def _levels_of(self) -> Levels:
        ruled = ("plane", "cylinder", "cone")
        curved = (i for i, t in self.facet_arrays.items() if self.faces[i].kind not in ruled and len(t))
        bulging = {i: self.corners(i) for i in curved}
        return Levels(self.edges, self.edge_points, self.face_edges, bulging)

    def edge_normals(self, face: int) -> list[Vector]:
        """Outward unit normals of a face at the points of its edges; none on free forms."""
        if face not in self._edge_normals:
            points = {p: None for e in self.face_edges[face] for p in self.edges[e].points}
            normals = (self.faces[face].surface.normal_at(p) for p in points)
            self._edge_normals[face] = [n for n in normals if n is not None]
        return self._edge_normals[face]

    @cached_property
    def _edge_normals(self) -> dict[int, list[Vector]]:
        return {}

    @cached_property
    def facet_arrays(self) -> dict[int, np.ndarray]:
        """(n, 3, 3) corners of each curved face's facets."""
        if isinstance(self.facets, Facets):
            return self.facets.arrays
        return {i: np.array(t).reshape(-1, 3, 3) for i, t in self.facets.items()}

    def corners(self, face: int) -> np.ndarray:
        """(n, 3) corners of a curved face's facets, each at least once."""
        if isinstance(self.facets, Facets) and face in self.facets.nodes:
            return self.facets.nodes[face]
        return self.facet_arrays[face].reshape(-1, 3)

    def corner_normals(self, face: int) -> np.ndarray:
        """(3 n, 3) outward unit normals at the corners of a curved face's facets, the facet's own where the surface has
        no formula; nan on facets without extent.
        """
        if face not in self._corner_normals:
            t = self.facet_arrays.get(face, np.empty((0, 3, 3)))
            normals = self.faces[face].surface.normals_at(t.reshape(-1, 3))
            if face in self.normals:
                normals = _units(np.array(self.normals[face]).reshape(-1, 3))
            flat = np.repeat(_units(np.cross(t[:, 1] - t[:, 0], t[:, 2] - t[:, 0])), 3, axis=0)
            self._corner_normals[face] = np.where(np.isnan(normals), flat, normals)
        return self._corner_normals[face]

    def distinct_normals(self, face: int) -> np.ndarray:
        """(n, 3) the same, each at least once."""
        bare = isinstance(self.facets, Facets) and face in self.facets.nodes
        return self.formula_normals(face) if bare else self.corner_normals(face)

    def formula_normals(self, face: int) -> np.ndarray:
        """(n, 3) outward unit normals at `corners`; nan where the surface has no formula."""
        if face not in self._formula_normals:
            self._formula_normals[face] = self.faces[face].surface.normals_at(self.corners(face))
        return self._formula_normals[face]

    @cached_property
    def _formula_normals(self) -> dict[int, np.ndarray]:
        return {}

    @cached_property
    def _corner_normals(self) -> dict[int, np.ndarray]:
        return {}

    @cached_property
    def facet_normals(self) -> dict[int, np.ndarray]:
        """(n, 3) outward unit normals over the middles of each curved face's facets; nan where there is no formula."""
        return {i: self.faces[i].surface.normals_at(t.mean(axis=1)) for i, t in self.facet_arrays.items()}

    @cached_property
    def face_edges(self) -> tuple[tuple[int, ...], ...]:
        """Edge indices of each face, in loop order."""
        return tuple(tuple(e for loop in f.loops for e, _ in loop) for f in self.faces)

    @cached_property
    def edge_points(self) -> EdgePoints:
        """The points of all edges as one array."""
        return EdgePoints(self.edges)

    def loop_points(self, face: int, loop: int) -> list[Vector]:
        """Closed polyline of a loop without repeating its first point, in loop order."""
        points: list[Vector] = []
        for e, forward in self.faces[face].loops[loop]:
            run = self.edges[e].points
            points.extend(run[:-1] if forward else run[:0:-1])
        return points


def _turned(levels: tuple[list[float], list[float]]) -> tuple[list[float], list[float]]:
    """Levels along a direction's opposite; without minus zero, as `Levels.along` has them."""
    low, high = levels
    return [-v + 0.0 for v in high], [-v + 0.0 for v in low]


@lru_cache(maxsize=4096)
def plane_axes(d: Vector) -> tuple[Vector, Vector]:
    """Right-handed unit vectors (u, v) across d, with u x v = d; the same for the same d."""
    from recognizer.vector import perpendicular

    u = perpendicular(d)
    return u, cross(d, u)


__all__ = ["Edge", "Face", "Snapshot", "Surface", "Triangles", "along", "plane_axes"]
