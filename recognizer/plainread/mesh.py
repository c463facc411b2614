"""A plain solid as triangles by face and lines by edge, for pictures and the page."""

from __future__ import annotations

from math import acos, ceil, dist, radians

import numpy as np
from manifold3d import triangulate

from recognizer.arcs import arc_points
from recognizer.plainread.curves import TIP, Curve
from recognizer.plainread.patches import Patch, Walk, grid_of, outer_first, radius_at
from recognizer.plainread.solid import Drawn, Solid
from recognizer.plainread.trimmed import patch_in, triangles_of
from recognizer.snapshot import Surface
from recognizer.vector import cross, dot, sub
from shared.mesh import Mesh

DEVIATION_SHARE = 0.0005
"""Deviation of the triangles as a share of the part's diagonal: half a pixel on a screen 1000 pixels high."""
COARSEST = radians(15)
"""Longest step round a curve, however small it is: 24 to a circle."""
FINER = 4
"""Times as many chords as the snapshot has are drawn along a free curve."""

Part = tuple[np.ndarray, np.ndarray]
"""Points (n, 3) and triangles (m, 3) of a face."""


def mesh_of(solid: Solid) -> Mesh:
    """Mesh of a plain solid; face and edge indices are those of its snapshot."""
    ends = np.array([p for curve in solid.curves for p in curve.points])
    deviation = DEVIATION_SHARE * dist(ends.min(axis=0), ends.max(axis=0))
    lines = [_line(curve, deviation) for curve in solid.curves]
    parts = [_face(solid, face, lines, deviation) for face in solid.faces]
    first = np.cumsum([0, *(len(points) for points, _ in parts)])
    drawn = [k for k, curve in enumerate(solid.curves) if curve.name != TIP]
    return Mesh(
        points=np.concatenate([points for points, _ in parts]),
        triangles=np.concatenate([triangles + first[i] for i, (_, triangles) in enumerate(parts)]),
        faces=np.repeat(np.arange(len(parts)), [len(triangles) for _, triangles in parts]),
        edge_points=np.concatenate([lines[k] for k in drawn]),
        edge_starts=np.cumsum([0, *(len(lines[k]) for k in drawn)]),
        edges=np.array(drawn),
        deviation=deviation,
    )


def steps_for(turn: float, radius: float, deviation: float) -> int:
    """Equal steps that a turn on a circle is drawn with."""
    step = 2 * acos(1 - min(deviation / radius, 1.0)) if radius > 0 else COARSEST
    return max(1, ceil(abs(turn) / min(step, COARSEST) - 1e-9))


def _line(curve: Curve, deviation: float) -> np.ndarray:
    """(n, 3) points of an edge in its curve's direction."""
    if curve.free is not None and curve.name != "line":
        return np.array(curve.free.steps(FINER * (len(curve.points) - 1)))
    if curve.frame is None:
        return np.array(curve.points)
    centre, z = curve.frame[0], curve.frame[1]
    turn, arm = curve.length / curve.radius, sub(curve.points[0], centre)
    x = (arm[0] / curve.radius, arm[1] / curve.radius, arm[2] / curve.radius)
    n = steps_for(turn, curve.radius, deviation)
    return np.array(arc_points(centre, x, cross(z, x), curve.radius, 0.0, turn, n))


def _face(solid: Solid, face: Drawn, lines: list[np.ndarray], deviation: float) -> Part:
    if face.surface.kind == "plane":
        return flat_face(face, lines)
    walks: list[Walk] = [[(e, solid.curves[e], forward) for e, forward in loop] for loop in face.loops]
    patch = patch_in(face.surface, face.frame, walks)
    if patch.trimmed:
        return _trimmed(face, patch, lines, deviation)
    return _curved(face.surface, face, patch.box, deviation)


def _trimmed(face: Drawn, patch: Patch, lines: list[np.ndarray], deviation: float) -> Part:
    """Triangles of a face of any outline, in strips between rulings."""
    loops = [np.concatenate([(lines[e] if way else lines[e][::-1])[:-1] for e, way in loop]) for loop in face.loops]
    around = steps_for(patch.box[1] - patch.box[0], _widest(face.surface, patch.box), deviation)
    corners = triangles_of(face.surface, face.frame, outer_first(loops, patch.outer), patch.box, around)
    return corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3)


def _widest(s: Surface, box: tuple[float, float, float, float]) -> float:
    return s.major_radius + s.radius if s.kind == "torus" else max(abs(radius_at(s, w)) for w in box[2:])


def flat_face(face: Drawn, lines: list[np.ndarray]) -> Part:
    """Triangles between the outlines, in the plane's own coordinates."""
    rings = [
        np.concatenate([(lines[e] if forward else lines[e][::-1])[:-1] for e, forward in loop]) for loop in face.loops
    ]
    _, z, x, y = face.frame
    axes = np.array([x, y] if dot(z, face.surface.axis) > 0 else [y, x]).T
    return np.concatenate(rings), np.asarray(triangulate([ring @ axes for ring in rings]))


def _curved(s: Surface, face: Drawn, box: tuple[float, float, float, float], deviation: float) -> Part:
    """Triangles on a grid of the patch; its widest circle says how many there are around."""
    torus = s.kind == "torus"
    around = steps_for(box[1] - box[0], _widest(s, box), deviation)
    grid = grid_of(s, face.frame, box, around, steps_for(box[3] - box[2], s.radius, deviation) if torus else 1)
    return grid_triangles(grid, s.hollow)


def grid_triangles(grid: np.ndarray, hollow: bool) -> Part:
    """Triangles of a grid (n, m, 3) of points; hollow: seen from the other side."""
    n, m = grid.shape[:2]
    at = np.arange(n * m).reshape(n, m)
    a, b, c, d = at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]
    both = np.concatenate([np.stack([a, b, c], axis=-1).reshape(-1, 3), np.stack([a, c, d], axis=-1).reshape(-1, 3)])
    return grid.reshape(-1, 3), both[:, ::-1] if hollow else both
