"""How a face lies to a direction: the range of cosines between its outward normals and the direction."""

from __future__ import annotations

import numpy as np

from recognizer.rule import Context
from recognizer.vector import dot
from shared.units import Vector

FLAT = 1e-4
"""Cosines closer to 0 or 1 than this are square or parallel (0.006 degrees)."""


def tilt(ctx: Context, face: int, d: Vector) -> tuple[float, float]:
    """Smallest and largest cosine between a face's outward normals and d."""
    s = ctx.faces[face].surface
    if s.kind == "plane":
        c = dot(s.axis, d)
        return c, c
    key = (face, d)
    if key not in ctx.tilts:
        ctx.tilts[key] = _curved_tilt(ctx, face, d)
    return ctx.tilts[key]


def tilts(ctx: Context, d: Vector) -> tuple[np.ndarray, np.ndarray]:
    """(faces,) smallest and (faces,) largest cosines of all faces, the same as `tilt` gives one by one."""
    low, high = np.zeros(len(ctx.faces)), np.zeros(len(ctx.faces))
    planes, axes = ctx.snapshot.plane_normals
    low[planes] = high[planes] = axes[0] * d[0] + axes[1] * d[1] + axes[2] * d[2]
    if len(planes) < len(ctx.faces):
        for f in ctx.faces:
            if f.kind != "plane":
                low[f.index], high[f.index] = tilt(ctx, f.index, d)
    return low, high


def _curved_tilt(ctx: Context, face: int, d: Vector) -> tuple[float, float]:
    f = ctx.faces[face]
    s = f.surface
    if s.kind in ("cylinder", "cone"):
        # A ruled face's normal does not change along its rulings: its edges show every normal that it has.
        across = (1 - min(1.0, dot(s.axis, d) ** 2)) ** 0.5
        if s.kind == "cylinder" and across < FLAT:
            return 0.0, 0.0
        if s.kind == "cylinder" and f.span > 355:
            return -across, across
        values = [dot(n, d) for n in ctx.snapshot.edge_normals(face)]
    else:
        n = ctx.snapshot.distinct_normals(face)
        cosines = n[:, 0] * d[0] + n[:, 1] * d[1] + n[:, 2] * d[2]
        values = cosines[~np.isnan(cosines)].tolist()
    return (min(values), max(values)) if values else (0.0, 0.0)
