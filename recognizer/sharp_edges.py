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
    facing = _facing(ctx)
    out = []
    for e in ctx.snapshot.edges:
        if e.bend < MIN_BEND_DEG or len(e.faces) != 2 or e.length < 0.05:
            continue
        a, b = e.faces
        ways = sorted(
            {facing[top] for top, wall in ((a, b), (b, a)) if top in facing and _falls(ctx, wall, facing[top])}
        )
        directions = [d for d in (ctx.frame.directions[k] for k in ways) if chamfer_passes(ctx, e.points, d)]
        out.append(
            Edge(
                index=e.index,
                faces=(a, b),
                length=e.length,
                angle=e.bend,
                start=e.start,
                end=e.end,
                directions=directions,
                levels=[max(dot(p, d) for p in e.points) for d in directions],
            )
        )
    return out


def _facing(ctx: Context) -> dict[int, int]:
    """Which of the main directions each plane face looks along, where it is square to one."""
    return {
        f.index: k
        for f in ctx.faces
        if f.kind == "plane"
        for k, d in enumerate(ctx.frame.directions)
        if dot(f.surface.axis, d) > 1 - 1e-6
    }


def _falls(ctx: Context, wall: int, way: int) -> bool:
    """Whether a face falls away along a main direction, or stands upright."""
    return tilt(ctx, wall, ctx.frame.directions[way])[0] > -1e-3
