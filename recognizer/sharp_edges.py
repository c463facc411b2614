"""Sharp convex edges that should be broken, and the directions from which a chamfer cutter reaches them."""

from __future__ import annotations

from recognizer.chamfer_reach import chamfer_passes
from recognizer.rule import Context
from recognizer.tilts import tilt
from recognizer.vector import dot
from shared.features import Edge

MIN_BEND_DEG = 20.0


def sharp_edges(ctx: Context) -> list[Edge]:
    """Convex edges of 20 degrees and more.

    A chamfer cutter coming along d reaches an edge where one of its faces lies square to d, facing it, and the other
    falls away along d, and nothing stands in its way; the six main directions are looked at.
    """
    out = []
    for e in ctx.snapshot.edges:
        if e.bend < MIN_BEND_DEG or len(e.faces) != 2 or e.length < 0.05:
            continue
        directions = [d for d in ctx.frame.directions if _reached(ctx, e.faces, d) and chamfer_passes(ctx, e.points, d)]
        out.append(
            Edge(
                index=e.index,
                faces=(e.faces[0], e.faces[1]),
                length=e.length,
                angle=e.bend,
                start=e.start,
                end=e.end,
                directions=directions,
                levels=[max(dot(p, d) for p in e.points) for d in directions],
            )
        )
    return out


def _reached(ctx: Context, faces: tuple[int, ...], d: tuple[float, float, float]) -> bool:
    for top, wall in (faces, faces[::-1]):
        s = ctx.faces[top].surface
        if s.kind == "plane" and dot(s.axis, d) > 1 - 1e-6 and tilt(ctx, wall, d)[0] > -1e-3:
            return True
    return False
