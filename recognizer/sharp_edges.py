"""Sharp convex edges that should be broken, and the directions from which a chamfer cutter reaches them."""

from __future__ import annotations

from recognizer.chamfer_reach import RADIUS, TOUCH, chamfer_passes
from recognizer.rule import Context
from recognizer.snapshot import Edge as Bound
from recognizer.vector import dot
from shared.features import Edge
from shared.units import Vector

MIN_BEND_DEG = 20.0
LEG = 0.2
"""Mm that an edge break takes along the direction; common practice, no source."""
CLEAR = 0.05
"""Mm that the cutter's tip stays over what lies under the edge's wall."""
FINEST = 0.1
"""Mm off its axis at which a pointed cutter still breaks an edge."""


def sharp_edges(ctx: Context) -> list[Edge]:
    """Convex edges of 20 degrees and more.

    A chamfer cutter coming along d reaches an edge where one of its faces lies square to d, facing it, and nothing stands
    in its way; the six main directions are looked at, and those that slanting faces of the edge look in.
    """
    facing = _facing(ctx)
    out = []
    for e in ctx.snapshot.edges:
        if e.bend < MIN_BEND_DEG or len(e.faces) != 2 or e.length < 0.05:
            continue
        a, b = e.faces
        ways = sorted((facing[top], wall) for top, wall in ((a, b), (b, a)) if top in facing)
        found = {d: touch for (_, d), wall in ways if (touch := _touch(ctx, e, d, wall))}
        out.append(
            Edge(
                index=e.index,
                faces=(a, b),
                length=e.length,
                angle=e.bend,
                start=e.start,
                end=e.end,
                directions=list(found),
                levels=[max(dot(p, d) for p in e.points) for d in found],
                touch=[2.0 * touch for touch in found.values()],
            )
        )
    return out


def _facing(ctx: Context) -> dict[int, tuple[int, Vector]]:
    """Where each plane face looks: the number of one of the main directions and that one, else its own normal after them."""
    main = ctx.frame.directions
    out = {}
    for face in ctx.faces:
        if face.kind == "plane":
            normal = face.surface.axis
            k = next((k for k, d in enumerate(main) if dot(normal, d) > 1 - 1e-6), len(main))
            out[face.index] = (k, main[k] if k < len(main) else normal)
    return out


def _touch(ctx: Context, e: Bound, d: Vector, wall: int) -> float:
    """Mm off the cutter's axis at which it touches the edge from d; 0 where it does not get there.

    As far out as usual; nearer to the tip over a low wall, whose foot the tip must clear; and inside a hole further out, up
    to its whole width, where the cutter's body would meet what stands round the rim.
    """
    most = max(dot(p, d) for p in e.points) - ctx.extent(wall, d)[0] - LEG - CLEAR
    if most >= FINEST and chamfer_passes(ctx, e.points, d, min(TOUCH, most)):
        return min(TOUCH, most)
    inside = ctx.faces[wall].surface
    round_ = inside.kind == "cylinder" and inside.hollow and e.points[0] == e.points[-1]
    wide = min(inside.radius, RADIUS - 2.5 * LEG, most) if round_ else 0.0
    return wide if wide > TOUCH and chamfer_passes(ctx, e.points, d, wide) else 0.0
