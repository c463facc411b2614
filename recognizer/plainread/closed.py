"""A plain solid as one closed mesh, for the simulation; None where its triangles would not meet at every edge."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, field

import numpy as np

from recognizer.arcs import arc_points
from recognizer.plainread.curves import TIP, Curve
from recognizer.plainread.mesh import flat_face, grid_triangles, steps_for
from recognizer.plainread.patches import Patch, grid_of, radius_at
from recognizer.plainread.solid import Drawn, Solid
from recognizer.plainread.trimmed import patch_in
from recognizer.vector import cross, dot, sub
from shared.shape import Shape

PARALLEL = 1.0 - 1e-9
SAME_TURN = 1e-6
"""Radians that a rim may turn further than its face."""
WELD = 5
"""Decimals to which points are taken for one: faces give a shared edge's points with the last bits of their own."""


class _Apart(Exception):
    """Triangles would not meet."""


def closed_shape(solid: Solid, deflection: float) -> Shape | None:
    """Closed mesh of a solid of lines and circles on planes and on rectangles of cylinders, cones and tori."""
    try:
        return _closed(solid, deflection)
    except _Apart:
        return None


def _closed(solid: Solid, deflection: float) -> Shape:
    patches = {i: _rectangle(solid, face) for i, face in enumerate(solid.faces) if face.surface.kind != "plane"}
    steps = _Steps()
    for i, rectangle in patches.items():
        _tie(steps, solid, i, rectangle, deflection)
    for k, curve in enumerate(solid.curves):
        if curve.frame is not None and curve.name != TIP:
            steps.want(k, steps_for(_turn(curve), curve.radius, deflection))
    lines = [_line(curve, steps.of(k)) for k, curve in enumerate(solid.curves)]
    parts = []
    for i, face in enumerate(solid.faces):
        patch = patches.get(i)
        if patch is None:
            parts.append(flat_face(face, lines))
        else:
            around, along = steps.of((i, "around")), steps.of((i, "along"))
            grid = grid_of(face.surface, face.frame, patch.box, around, along)
            parts.append(grid_triangles(grid, face.surface.hollow))
    first = np.cumsum([0, *(len(points) for points, _ in parts)])
    triangles = np.concatenate([t + first[i] for i, (_, t) in enumerate(parts)]).astype(np.int64)
    faces = np.repeat(np.arange(len(parts)), [len(t) for _, t in parts])
    return _welded(np.concatenate([points for points, _ in parts]), triangles, faces, deflection)


def _rectangle(solid: Solid, face: Drawn) -> Patch:
    patch = patch_in(face.surface, face.frame, [[(e, solid.curves[e], way) for e, way in loop] for loop in face.loops])
    if patch.trimmed:
        raise _Apart
    return patch


@dataclass
class _Steps:
    """How many equal steps curves and grids take: what is tied takes as many as any of it wants."""

    _over: dict[Hashable, Hashable] = field(default_factory=dict)
    _most: dict[Hashable, int] = field(default_factory=dict)

    def _root(self, key: Hashable) -> Hashable:
        while (over := self._over.get(key, key)) != key:
            key = over
        return key

    def tie(self, a: Hashable, b: Hashable) -> None:
        """Both take the same."""
        a, b = self._root(a), self._root(b)
        if a != b:
            self._over[a] = b
            self._most[b] = max(self._most.get(a, 1), self._most.get(b, 1))

    def want(self, key: Hashable, count: int) -> None:
        """At least so many."""
        root = self._root(key)
        self._most[root] = max(self._most.get(root, 1), count)

    def of(self, key: Hashable) -> int:
        """How many there are."""
        return self._most.get(self._root(key), 1)


def _tie(steps: _Steps, solid: Solid, i: int, patch: Patch, deflection: float) -> None:
    """Steps of a face's grid, which its rims take too."""
    face, (u0, u1, w0, w1) = solid.faces[i], patch.box
    s, torus = face.surface, face.surface.kind == "torus"
    widest = s.major_radius + s.radius if torus else max(abs(radius_at(s, w)) for w in (w0, w1))
    off = 0.5 * deflection if torus else deflection  # a torus bends both ways
    steps.want((i, "around"), steps_for(u1 - u0, widest, off))
    steps.want((i, "along"), steps_for(w1 - w0, s.radius, off) if torus else 1)
    for loop in face.loops:
        for e, _ in loop:
            curve = solid.curves[e]
            if curve.frame is None or curve.name == TIP:
                continue
            upright = abs(dot(curve.frame[1], face.frame[1])) > PARALLEL
            if not upright and not torus:
                raise _Apart
            if abs(_turn(curve) - (u1 - u0 if upright else w1 - w0)) > SAME_TURN:
                raise _Apart
            steps.tie(e, (i, "around" if upright else "along"))


def _turn(curve: Curve) -> float:
    return curve.length / curve.radius


def _line(curve: Curve, count: int) -> np.ndarray:
    """(n, 3) points of an edge in its curve's direction."""
    if curve.name == TIP or (curve.name == "line" and curve.frame is None):
        return np.array(curve.points)
    if curve.frame is None or curve.free is not None:
        raise _Apart
    centre, z = curve.frame[0], curve.frame[1]
    arm = sub(curve.points[0], centre)
    x = (arm[0] / curve.radius, arm[1] / curve.radius, arm[2] / curve.radius)
    return np.array(arc_points(centre, x, cross(z, x), curve.radius, 0.0, _turn(curve), count))


def _welded(points: np.ndarray, triangles: np.ndarray, faces: np.ndarray, deflection: float) -> Shape:
    """Points that are one made one; every edge must then be run once each way."""
    _, first, place = np.unique(np.round(points, WELD), axis=0, return_index=True, return_inverse=True)
    triangles = place.reshape(-1)[triangles]
    a, b, c = triangles.T
    real = (a != b) & (b != c) & (c != a)
    triangles, faces = triangles[real], faces[real]
    ends = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    there, back = (np.sort(x * len(first) + y) for x, y in (ends.T, ends[:, ::-1].T))
    if (there != back).any() or (np.diff(there) == 0).any():
        raise _Apart
    return Shape(points[first], triangles, faces, deflection)
