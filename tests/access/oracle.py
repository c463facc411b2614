"""A slow second opinion on reach: rays and a height map on a plain triangle mesh of its own. It shares no code with ours.

Sight: rays from points spread over every face, against all triangles. Touch: a height map of the material; the lowest tip
level of a disc at each place is the highest material under it; a point is touched where the place of its contact lets the
tip down to it. The map's step g blurs outlines by about g: a free disc of radius r - g gives an upper bound, and that of a
cutter larger by 2 g a lower bound.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from OCP.BRep import BRep_Tool
from OCP.BRepGProp import BRepGProp_Face
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools
from OCP.gp import gp_Pnt, gp_Vec
from OCP.TopAbs import TopAbs_FACE, TopAbs_REVERSED
from OCP.TopExp import TopExp
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS
from OCP.TopTools import TopTools_IndexedMapOfShape
from shapely import STRtree

POINTS = 160
"""Points on each face."""
CHORD_MM = 0.02
ANGLE_RAD = 0.1
OFF_MM = 0.04
AT_ONCE = 4096
"""Rays in one pass."""
LEAN = 1e-3
"""Facets of an upright cylinder may lean by so much: their corners are off by a thousandth of a millimetre."""


@dataclass
class Points:
    """Points of faces: face (n,), place (n, 3), outward normal (n, 3)."""

    face: np.ndarray
    at: np.ndarray
    normal: np.ndarray


def triangles_of(solid: Any) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(face, corners (n, 3, 3), outward normals (n, 3, 3) of the surface there) of a mesh of the whole solid."""
    BRepTools.Clean_s(solid)
    BRepMesh_IncrementalMesh(solid, CHORD_MM, False, ANGLE_RAD, False)
    faces = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(solid, TopAbs_FACE, faces)
    index, out, normals = [], [], []
    for i in range(1, faces.Extent() + 1):
        face = TopoDS.Face_s(faces.FindKey(i))
        where = TopLoc_Location()
        mesh = BRep_Tool.Triangulation_s(face, where)
        if mesh is None:
            continue
        points = np.array(
            [_xyz(mesh.Node(k).Transformed(where.Transformation())) for k in range(1, mesh.NbNodes() + 1)]
        )
        corners = np.array([mesh.Triangle(k).Get() for k in range(1, mesh.NbTriangles() + 1)]) - 1
        if face.Orientation() == TopAbs_REVERSED:
            corners = corners[:, [0, 2, 1]]
        index += [i - 1] * len(corners)
        out.append(points[corners])
        normals.append(_normals(face, mesh, points)[corners])
    return np.array(index), np.concatenate(out), np.concatenate(normals)


def _normals(face: Any, mesh: Any, points: np.ndarray) -> np.ndarray:
    """(n, 3) outward unit normals of a face's surface at the nodes of its mesh; zero where there is none."""
    if not mesh.HasUVNodes():
        return np.zeros_like(points)
    surface, out, at, n = BRepGProp_Face(face), [], gp_Pnt(), gp_Vec()
    for k in range(1, mesh.NbNodes() + 1):
        uv = mesh.UVNode(k)
        surface.Normal(uv.X(), uv.Y(), at, n)
        out.append((n.X(), n.Y(), n.Z()))
    found = np.array(out)
    size = np.linalg.norm(found, axis=1)[:, None]
    return found / np.where(size > 1e-9, size, np.inf)


def _xyz(p: Any) -> tuple[float, float, float]:
    return (p.X(), p.Y(), p.Z())


def points_on(face: np.ndarray, t: np.ndarray, of_surface: np.ndarray, seed: int = 1) -> Points:
    """Points spread evenly by area over each face, with the surface's own normals: facets of a free form lean where it stands."""
    rng = np.random.RandomState(seed)
    n = np.cross(t[:, 1] - t[:, 0], t[:, 2] - t[:, 0])
    area = np.linalg.norm(n, axis=1)
    normals = n / np.maximum(area, 1e-12)[:, None]
    found = []
    for f in np.unique(face):
        k = np.flatnonzero(face == f)
        total = np.cumsum(area[k])
        if total[-1] <= 0:
            continue
        chosen = k[
            np.searchsorted(total, (np.arange(POINTS) + rng.uniform(size=POINTS)) / POINTS * total[-1] * 0.999999)
        ]
        a, b = np.sqrt(rng.uniform(size=POINTS)), rng.uniform(size=POINTS)
        w = np.stack([1 - a, a * (1 - b), a * b], axis=1)
        own = (of_surface[chosen] * w[:, :, None]).sum(axis=1)
        size = np.linalg.norm(own, axis=1)[:, None]
        normal = np.where(size > 0.5, own / np.maximum(size, 0.5), normals[chosen])
        found.append((np.full(POINTS, f), (t[chosen] * w[:, :, None]).sum(axis=1), normal))
    return Points(*(np.concatenate(c) for c in zip(*found, strict=True)))


def seen(points: Points, t: np.ndarray, d: np.ndarray) -> np.ndarray:
    """(n,) whether each point is free along d: it does not turn away, and no triangle is in the way of its ray."""
    out = points.normal @ d > -LEAN
    start = points.at + OFF_MM * points.normal + OFF_MM * d
    e1, e2 = t[:, 1] - t[:, 0], t[:, 2] - t[:, 0]
    h = np.cross(d, e2)
    det = (e1 * h).sum(axis=1)
    real = np.abs(det) > 1e-12
    e1, e2, h, det, a = e1[real], e2[real], h[real], det[real], t[real, 0]
    uv = np.stack(_across(d), axis=1)
    flat = t[real] @ uv
    tree = STRtree(shapely.box(*flat.min(axis=1).T, *flat.max(axis=1).T))
    asked = np.flatnonzero(out)
    for some in np.array_split(asked, len(asked) // AT_ONCE + 1):
        i, k = tree.query(shapely.points(start[some] @ uv))
        s = start[some[i]] - a[k]
        u = (s * h[k]).sum(axis=1) / det[k]
        cross = np.cross(s, e1[k])
        v = cross @ d / det[k]
        far = (e2[k] * cross).sum(axis=1) / det[k]
        out[some[i[(u >= 0) & (v >= 0) & (u + v <= 1) & (far > OFF_MM)]]] = False
    return out


def _across(d: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    k = np.eye(3)[np.abs(d).argmin()]
    u = np.cross(d, k)
    u /= np.linalg.norm(u)
    return u, np.cross(d, u)


class HeightMap:
    """Highest material over a grid of step g across d, with a margin of empty ground round the part."""

    def __init__(self, t: np.ndarray, d: np.ndarray, step: float, margin: float) -> None:
        self.u, self.v = _across(d)
        self.d, self.step = d, step
        flat = np.stack([t @ self.u, t @ self.v, t @ d], axis=-1)
        self.low = flat[..., :2].reshape(-1, 2).min(axis=0) - margin
        size = flat[..., :2].reshape(-1, 2).max(axis=0) + margin - self.low
        self.shape = tuple(np.ceil(size / step).astype(int) + 1)
        self.ground = float(flat[..., 2].min()) - 1.0
        self.map = np.full(self.shape, self.ground)
        for triangle in flat:
            self._draw(triangle)

    def _draw(self, t: np.ndarray) -> None:
        e1, e2 = t[1] - t[0], t[2] - t[0]
        det = e1[0] * e2[1] - e1[1] * e2[0]
        if abs(det) < 1e-12:
            return
        lo = np.maximum(np.ceil((t[:, :2].min(axis=0) - self.low) / self.step).astype(int), 0)
        hi = np.floor((t[:, :2].max(axis=0) - self.low) / self.step).astype(int)
        if (hi < lo).any():
            return
        x = self.low[0] + np.arange(lo[0], hi[0] + 1)[:, None] * self.step - t[0, 0]
        y = self.low[1] + np.arange(lo[1], hi[1] + 1)[None, :] * self.step - t[0, 1]
        a, b = (x * e2[1] - y * e2[0]) / det, (y * e1[0] - x * e1[1]) / det
        inside = (a >= -1e-9) & (b >= -1e-9) & (a + b <= 1 + 1e-9)
        z = np.where(inside, t[0, 2] + a * e1[2] + b * e2[2], -np.inf)
        view = self.map[lo[0] : hi[0] + 1, lo[1] : hi[1] + 1]
        np.maximum(view, z, out=view)

    def touched(self, points: Points, radius: float, more: float) -> np.ndarray:
        """(n,) whether a flat cutter of this radius touches points.

        more: added to the radius of the disc that must be free: less than 0 gives an upper bound, more a lower one. A
        standing or leaning face is touched from one place, a radius away along its normal; a floor from any place near.
        """
        tip = _filtered(self.map, radius + more, self.step, np.maximum)
        across = np.stack([points.normal @ self.u, points.normal @ self.v], axis=-1)
        size = np.linalg.norm(across, axis=1)
        floor = size < 1e-3
        flat = np.stack([points.at @ self.u, points.at @ self.v], axis=-1)
        z = points.at @ self.d
        out = np.zeros(len(z), bool)
        place = flat[~floor] + radius * across[~floor] / size[~floor, None]
        out[~floor] = self._at(tip, place) <= z[~floor] + 0.02
        if floor.any():
            best = _filtered(tip, radius, self.step, np.minimum)
            out[floor] = self._at(best, flat[floor]) <= z[floor] + 0.02
        return out

    def _at(self, field: np.ndarray, place: np.ndarray) -> np.ndarray:
        k = np.clip(np.round((place - self.low) / self.step).astype(int), 0, np.array(self.shape) - 1)
        return field[k[:, 0], k[:, 1]]


def _filtered(field: np.ndarray, radius: float, step: float, reduce: Any) -> np.ndarray:
    """Largest or smallest value within a disc, chord by chord: a chord's running value by doubling."""
    cells = int(radius / step)
    fill = -np.inf if reduce is np.maximum else np.inf
    out = np.full(field.shape, fill)
    for i in range(-cells, cells + 1):
        half = int(np.sqrt(max(0.0, (radius / step) ** 2 - i * i)))
        moved = np.full(field.shape, fill)
        n = field.shape[0]
        moved[max(0, -i) : n - max(0, i)] = field[max(0, i) : n - max(0, -i)]
        reduce(out, _running(moved, half, reduce, fill), out=out)
    return out


def _running(field: np.ndarray, half: int, reduce: Any, fill: float) -> np.ndarray:
    """Value over half cells to both sides along the second axis."""
    width = 2 * half + 1
    padded = np.pad(field, ((0, 0), (half, half)), constant_values=fill)
    span = 1
    while 2 * span <= width:
        padded = reduce(padded[:, :-span], padded[:, span:])
        span *= 2
    count = field.shape[1]
    rest = width - span
    return reduce(padded[:, :count], padded[:, rest : rest + count])
