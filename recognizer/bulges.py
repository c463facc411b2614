"""Which way free-form faces bulge: out of the part, as a round along an edge does, or into it, as a radius in a corner."""

from __future__ import annotations

import numpy as np

from recognizer.rule import Context

FREE = ("bspline", "revolution")
NOISE = 0.05
"""Share of what lies on the wrong side of the facets' planes: noise of facets and of sloppy splines."""
SAMPLES = 60


def bulge(ctx: Context, face: int) -> int:
    """1 where a free-form face curves round the material all over, -1 where it curves round the outside, else 0."""
    store = ctx.__dict__.setdefault("_bulges", {})
    if face not in store:
        store[face] = _bulge(ctx, face)
    return int(store[face])


def _bulge(ctx: Context, face: int) -> int:
    corners = ctx.snapshot.facet_arrays.get(face)
    if corners is None or len(corners) < 2 or ctx.faces[face].kind not in FREE:
        return 0
    corners = corners[:: max(1, len(corners) // SAMPLES)]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normals, axis=1)
    real = size > 1e-12
    normals, middles = normals[real] / size[real, None], corners[real].mean(axis=1)
    away = middles[None] - middles[:, None]
    far = np.linalg.norm(away, axis=2)
    rise = (away * normals[:, None]).sum(axis=2) / np.where(far > 1e-9, far, np.inf)
    above, below = float(rise.clip(min=0.0).sum()), float(-rise.clip(max=0.0).sum())
    if below < NOISE * above:
        return -1
    return 1 if above < NOISE * below else 0
