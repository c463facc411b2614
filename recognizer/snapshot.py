"""The part as plain frozen records: everything after the kernel reads these and nothing else.

Lengths in mm, angles in degrees unless a name says otherwise. Normals point out of the material.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from recognizer.vector import add, along, cross, dot, scale, sub, unit
from shared.units import Vector


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
        from math import cos, radians, sin

        radial = unit(sub(rel, scale(self.axis, dot(rel, self.axis))))
        if self.kind == "cylinder":
            return radial
        if self.kind == "cone":
            a = radians(self.half_angle)
            return sub(scale(radial, cos(a)), scale(self.axis, sin(a)))
        return unit(sub(rel, scale(radial, self.major_radius)))


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

    def extent(self, d: Vector) -> tuple[float, float]:
        """Lowest and highest level along d: exact on lines and arcs, within the chords' error on other curves."""
        values = [dot(p, d) for p in self.points]
        low, high = min(values), max(values)
        if self.curve == "circle" and self.centre is not None and self.axis is not None:
            across = sub(d, scale(self.axis, dot(d, self.axis)))
            size = dot(across, across) ** 0.5
            if size > 1e-9:
                rise = self.radius * size
                level = dot(self.centre, d)
                for way in (1.0, -1.0):
                    if not low < level + way * rise < high and self._passes(along(self.centre, across, way * self.radius / size)):
                        low, high = min(low, level + way * rise), max(high, level + way * rise)
        return low, high

    def _passes(self, q: Vector) -> bool:
        """Whether a point of the circle lies on the arc: some chord of the polyline passes it within its sagitta."""
        reach = 0.0055 * self.radius
        for a, b in zip(self.points, self.points[1:], strict=False):
            step = sub(b, a)
            size = dot(step, step)
            if size < 1e-18:
                continue
            t = max(0.0, min(1.0, dot(sub(q, a), step) / size))
            gap = sub(q, along(a, step, t))
            if dot(gap, gap) < reach * reach:
                return True
        return False

    @property
    def middle(self) -> Vector:
        """A point about half way along."""
        k = len(self.points) // 2
        if len(self.points) % 2:
            return self.points[k]
        return scale(add(self.points[k - 1], self.points[k]), 0.5)


@dataclass(frozen=True)
class Snapshot:
    """One solid, read once. `facets` holds triangles of the curved faces only: {face: ((a, b, c), ...)}."""

    faces: tuple[Face, ...]
    edges: tuple[Edge, ...]
    volume: float
    unit: str = "mm"
    step_schema: str = ""
    solids: int = 1
    loose_faces: int = 0
    facets: dict[int, tuple[tuple[Vector, Vector, Vector], ...]] = field(default_factory=dict)

    @cached_property
    def face_edges(self) -> tuple[tuple[int, ...], ...]:
        """Edge indices of each face, in loop order."""
        return tuple(tuple(e for loop in f.loops for e, _ in loop) for f in self.faces)

    def loop_points(self, face: int, loop: int) -> list[Vector]:
        """Closed polyline of a loop without repeating its first point, in loop order."""
        points: list[Vector] = []
        for e, forward in self.faces[face].loops[loop]:
            run = self.edges[e].points
            points.extend(run[:-1] if forward else run[:0:-1])
        return points

    def points_of(self, face: int) -> list[Vector]:
        """All polyline points of a face's loops, plus the extreme points that a curved face may bulge to."""
        return [p for k in range(len(self.faces[face].loops)) for p in self.loop_points(face, k)]


def plane_axes(d: Vector) -> tuple[Vector, Vector]:
    """Right-handed unit vectors (u, v) across d, with u x v = d; the same for the same d."""
    from recognizer.vector import perpendicular

    u = perpendicular(d)
    return u, cross(d, u)


__all__ = ["Edge", "Face", "Snapshot", "Surface", "along", "plane_axes"]
