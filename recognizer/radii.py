"""Radii of a view: between floor and walls, and of its upright inner corners."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING

from recognizer.blends import is_floor_radius
from recognizer.bodies import Reading
from recognizer.convex import area
from recognizer.outline import Plane2, Run
from recognizer.reliefs import relieved_radius
from recognizer.rule import Context
from recognizer.vector import dot
from shared.units import Vector

if TYPE_CHECKING:
    from recognizer.views import Look


def _floor_radii(ctx: Context, look: Look) -> list[float]:
    body = frozenset(look.reading.floors + look.reading.walls + look.reading.leans)
    leans = set(look.reading.leans) & look.reading.blends
    found = [f for f in sorted(leans) if is_floor_radius(ctx, f, body, look.d)]
    found += [f for f in look.reading.leans if f not in leans and _rolls_up(ctx, f, look.reading)]
    return [r for f in found if (r := ctx.faces[f].surface.radius)]  # free forms tell none


def _rolls_up(ctx: Context, face: int, reading: Reading) -> bool:
    """A wall that is nothing but a hollow radius from the floor to the mouth."""
    if not ctx.graph.hollow(face) or ctx.faces[face].kind not in ("cylinder", "torus"):
        return False
    return any(sign == "smooth" and n in reading.floors for n, _, sign in ctx.graph.links(face))


def floor_radius(ctx: Context, look: Look) -> float | None:
    """Smallest radius between floor and walls: 0 where they meet sharply, None without floor or walls."""
    if not look.reading.floors or not (look.reading.walls or look.reading.leans):
        return None
    return min(_floor_radii(ctx, look), default=0.0)


def corner_radius(ctx: Context, look: Look) -> tuple[float | None, int]:
    """Smallest upright concave corner and how many have it: arcs, and between closed runs sharp corners (radius 0) and
    relieved ones (that of the largest cutter that comes as far as the relief).
    """
    radii = [
        round(r.radius, 4) for r in look.outline.runs if r.radius and is_upright(ctx, r, look.d) and _hollow(ctx, r)
    ]
    runs = look.outline.runs
    way = -1.0 if area([q for r in runs for q in r.points[:-1]]) > 0 else 1.0
    for a, b in zip(runs, runs[1:] + runs[:1], strict=True):
        if a is not b and not a.open and not b.open and _sharp(a, b, way):
            radii.append(round(relieved_radius(ctx, a.faces[0], b.faces[0], a.points[-1], Plane2(look.d)), 4))
    if not radii:
        return None, 0
    return min(radii), radii.count(min(radii))


def _hollow(ctx: Context, run: Run) -> bool:
    """Whether a run is a corner's arc: not a floor's radius that runs round the foot of what juts in."""
    return bool(run.faces) and ctx.graph.hollow(run.faces[0]) and ctx.faces[run.faces[0]].kind != "torus"


def is_upright(ctx: Context, run: Run, d: Vector) -> bool:
    """Whether a round wall's axis stands along d (drafted radii lean a little): seen across, it is no arc; balls have none."""
    if run.faces and ctx.faces[run.faces[0]].kind == "sphere":
        return True
    return bool(run.faces) and abs(dot(ctx.faces[run.faces[0]].surface.axis, d)) > 0.9


def _sharp(a: Run, b: Run, way: float) -> bool:
    """Whether two runs meet in a corner of the region by more than a few degrees, not at an edge that juts into it.

    way: 1 where the outline runs round the region anticlockwise, -1 clockwise.
    """
    (px, py), (qx, qy) = a.points[-2], a.points[-1]
    rx, ry = b.points[1]
    cross = (qx - px) * (ry - qy) - (qy - py) * (rx - qx)
    size = hypot(qx - px, qy - py) * hypot(rx - qx, ry - qy) or 1.0
    return way * cross / size > 0.35
