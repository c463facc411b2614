"""How a face lies to a direction: the range of cosines between its outward normals and the direction."""

from __future__ import annotations

from math import cos, radians, sin

import numpy as np

from recognizer.rule import Context
from recognizer.snapshot import Face
from recognizer.vector import dot
from shared.units import Vector

FLAT = 1e-4
"""Cosines closer to 0 or 1 than this are square or parallel (0.006 degrees)."""


def tilt(ctx: Context, face: int, d: Vector) -> tuple[float, float]:
    """Smallest and largest cosine between a face's outward normals and d."""
    s = ctx.snapshot.faces[face].surface
    if s.kind == "plane":
        n = s.axis
        c = n[0] * d[0] + n[1] * d[1] + n[2] * d[2]
        return c, c
    key = (face, d)
    found = ctx.tilts.get(key)
    if found is None:
        if (
            d in ctx.all_tilts or d in ctx.frame.directions
        ):  # along a main direction all faces are asked sooner or later
            low, high = tilts(ctx, d)
            found = float(low[face]), float(high[face])
        else:
            found = _curved_tilt(ctx, face, d)
        ctx.tilts[key] = found
    return found


def tilts(ctx: Context, d: Vector) -> tuple[np.ndarray, np.ndarray]:
    """(faces,) smallest and (faces,) largest cosines of all faces, the same as `tilt` gives one by one; kept."""
    if d not in ctx.all_tilts:
        low, high = np.zeros(len(ctx.faces)), np.zeros(len(ctx.faces))
        planes, axes = ctx.snapshot.plane_normals
        low[planes] = high[planes] = axes[0] * d[0] + axes[1] * d[1] + axes[2] * d[2]
        if len(planes) < len(ctx.faces):
            if ctx.curved_normals is None:
                ctx.curved_normals = CurvedNormals(ctx)
            ctx.curved_normals.fill(d, low, high)
        ctx.all_tilts[d] = low, high
    return ctx.all_tilts[d]


class CurvedNormals:
    """The normals of a part's curved faces that `tilt` looks at, as one array."""

    def __init__(self, ctx: Context) -> None:
        # A ruled face's normal does not change along its rulings: its edges show every normal that it has.
        ruled = [f for f in ctx.faces if f.kind in ("cylinder", "cone")]
        others = [f for f in ctx.faces if f.kind not in ("plane", "cylinder", "cone")]
        rims, counts = _rim_normals(ctx, ruled)
        normals = [ctx.snapshot.distinct_normals(f.index).T for f in others]
        sizes = np.array([*counts, *(n.shape[1] for n in normals)], dtype=int)
        self.faces = np.array([f.index for f in ruled + others], dtype=int)[sizes > 0]
        self.normals = np.concatenate([rims, *normals], axis=1)
        self.starts = (np.cumsum(sizes) - sizes)[sizes > 0]
        self.cylinders = [f for f in ruled if f.kind == "cylinder"]

    def fill(self, d: Vector, low: np.ndarray, high: np.ndarray) -> None:
        """Writes the curved faces' cosines with d among those of all faces."""
        n = self.normals
        cosines = n[0] * d[0] + n[1] * d[1] + n[2] * d[2]
        if len(self.faces):  # where a surface has no normal there is nan, which these leave out
            low[self.faces] = np.nan_to_num(np.fmin.reduceat(cosines, self.starts))
            high[self.faces] = np.nan_to_num(np.fmax.reduceat(cosines, self.starts))
        for f in self.cylinders:
            plain = _plain_cylinder(f, d)
            if plain is not None:
                low[f.index], high[f.index] = plain


def _rim_normals(ctx: Context, ruled: list[Face]) -> tuple[np.ndarray, np.ndarray]:
    """(3, n) outward unit normals of cylinders and cones at the points of their edges, face by face, and how many each has.

    Reckoned in the order of `Surface.normal_at`, so that both give the same bits; nan on an axis.
    """
    if not ruled:
        return np.empty((3, 0)), np.zeros(0, dtype=int)
    own = [ctx.snapshot.face_edges[f.index] for f in ruled]
    place, counts = ctx.snapshot.edge_points.places(np.array([e for edges in own for e in edges], dtype=int))
    face = np.repeat(np.repeat(np.arange(len(ruled)), [len(edges) for edges in own]), counts)
    surfaces = [f.surface for f in ruled]
    origin, axis = (np.array([getattr(s, name) for s in surfaces]).T[:, face] for name in ("origin", "axis"))
    cosine, sine = (np.array([way(radians(s.half_angle)) for s in surfaces])[face] for way in (cos, sin))
    rel = ctx.snapshot.edge_points.points[place].T - origin
    out = rel - axis * (rel[0] * axis[0] + rel[1] * axis[1] + rel[2] * axis[2])
    with np.errstate(divide="ignore", invalid="ignore"):
        out = out * (1.0 / np.sqrt(out[0] * out[0] + out[1] * out[1] + out[2] * out[2]))
    out = out * cosine - axis * sine
    return out * np.array([-1.0 if s.hollow else 1.0 for s in surfaces])[face], np.bincount(face, minlength=len(ruled))


def _plain_cylinder(f: Face, d: Vector) -> tuple[float, float] | None:
    """Cosines of a cylinder along d, or of one that goes all round; None of another."""
    across = (1 - min(1.0, dot(f.surface.axis, d) ** 2)) ** 0.5
    if across < FLAT:
        return 0.0, 0.0
    return (-across, across) if f.span > 355 else None


def _curved_tilt(ctx: Context, face: int, d: Vector) -> tuple[float, float]:
    f = ctx.faces[face]
    plain = _plain_cylinder(f, d) if f.kind == "cylinder" else None
    if plain is not None:
        return plain
    if f.kind in ("cylinder", "cone"):
        values = [dot(n, d) for n in ctx.snapshot.edge_normals(face)]
    else:
        n = ctx.snapshot.distinct_normals(face)
        cosines = n[:, 0] * d[0] + n[:, 1] * d[1] + n[:, 2] * d[2]
        values = cosines[~np.isnan(cosines)].tolist()
    return (min(values), max(values)) if values else (0.0, 0.0)
