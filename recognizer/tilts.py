"""How a face lies to a direction: the range of cosines between its outward normals and the direction."""

from __future__ import annotations

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
        whole = ctx.all_tilts.get(d)
        found = (float(whole[0][face]), float(whole[1][face])) if whole else _curved_tilt(ctx, face, d)
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
        curved = [f for f in ctx.faces if f.kind != "plane"]
        normals = [_normals(ctx, f.index) for f in curved]
        full = [(f.index, n) for f, n in zip(curved, normals, strict=True) if len(n)]
        self.faces = np.array([f for f, _ in full], dtype=int)
        self.normals = np.concatenate([n for _, n in full]).T if full else np.empty((3, 0))
        self.starts = np.cumsum([0, *(len(n) for _, n in full)])[:-1]
        self.cylinders = [f for f in curved if f.kind == "cylinder"]

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


def _normals(ctx: Context, face: int) -> np.ndarray:
    """(n, 3) outward unit normals that show all that a curved face has; nan where there is none."""
    # A ruled face's normal does not change along its rulings: its edges show every normal that it has.
    if ctx.faces[face].kind in ("cylinder", "cone"):
        return np.array(ctx.snapshot.edge_normals(face)).reshape(-1, 3)
    return ctx.snapshot.distinct_normals(face)


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
