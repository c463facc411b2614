"""What a view says of its walls' forms: profile, draft, round floors, and what a dish's own wall hides."""

from __future__ import annotations

from collections.abc import Iterable
from math import asin, degrees, hypot
from typing import TYPE_CHECKING

from recognizer.outline import Run
from recognizer.rule import Context
from recognizer.tilts import FLAT, tilt
from recognizer.vector import cross, length, sub
from shared.units import Vector

if TYPE_CHECKING:
    from recognizer.views import Look


def facing(a: Run, b: Run) -> bool:
    """Two straight runs that are parallel; on one outline they then face each other."""
    if a.centre is not None or b.centre is not None:
        return False  # an arc, whose chord says nothing
    (ax, ay), (bx, by) = _way(a), _way(b)
    return abs(ax * by - ay * bx) < 2e-3


def _way(r: Run) -> tuple[float, float]:
    (x0, y0), (x1, y1) = r.points[0], r.points[-1]
    size = hypot(x1 - x0, y1 - y0) or 1.0
    return ((x1 - x0) / size, (y1 - y0) / size)


def profile_of(ctx: Context, look: Look) -> str | None:
    """ISO 14649 name of the outline (closed) or of the section (open)."""
    closed = look.outline.closed
    if not look.outline.opens:
        dish = len(closed) == 1 and all(ctx.faces[f].kind == "sphere" for f in closed[0].faces)
        return "circular_closed" if dish else _closed_profile(closed)
    if look.kind == "slot":
        if any(ctx.faces[f].kind == "cylinder" for f in look.reading.leans):
            return "partial_circular" if not look.reading.floors else "rounded_u"
        if look.reading.leans:
            return "vee"
        return "square_u"
    if len(closed) == 1 and closed[0].radius is None:
        return "linear"
    return "general"


def _closed_profile(closed: list[Run]) -> str:
    if len(closed) == 1 and closed[0].radius:
        return "circular_closed"
    if any(r.radius for r in closed):
        return "general_closed"
    if len(closed) == 4 and facing(closed[0], closed[2]) and facing(closed[1], closed[3]):
        (ax, ay), (bx, by) = _way(closed[0]), _way(closed[1])
        if abs(ax * bx + ay * by) < 2e-3:
            return "rectangular_closed"
    lengths = sorted(r.length for r in closed)
    if len(closed) >= 3 and lengths[-1] - lengths[0] < 0.01 * lengths[-1]:
        return "ngon"
    return "general_closed"


def any_inside(ctx: Context, blockers: Iterable[int], own: frozenset[int]) -> bool:
    """Whether some face in the way reaches into the air of a dish or a trough; what lies behind its wall covers nothing of it."""
    walls = {ctx.graph.group[f]: ctx.faces[f].surface for f in own}
    s = next(iter(walls.values()))
    if len(walls) != 1 or not s.hollow or s.kind not in ("sphere", "cylinder"):
        return True
    axis = s.axis if s.kind == "cylinder" else None
    for f in blockers:
        for e in ctx.snapshot.face_edges[f]:
            for p in ctx.snapshot.edges[e].points:
                rel = sub(p, s.origin)
                away = length(cross(rel, axis)) if axis else length(rel)
                if away < s.radius - 4 * ctx.tol.length_mm:
                    return True
    return False


def draft_of(ctx: Context, face: int, d: Vector) -> float:
    """Degrees by which a wall leans away from d, of a round one where it is steepest; 0 for a round floor."""
    low, high = tilt(ctx, face, d)
    if ctx.faces[face].kind in ("cylinder", "sphere", "torus"):
        high = low if high < 1 - 10 * FLAT else 0.0
    return degrees(asin(min(1.0, max(0.0, high))))


def round_floor(ctx: Context, look: Look) -> bool:
    """Whether every leaning face is a hollow round that is level somewhere, or rises from one that is."""
    leans = look.reading.leans
    level = [f for f in leans if tilt(ctx, f, look.d)[1] > 1 - 10 * FLAT]
    return bool(level) and all(ctx.graph.hollow(f) and ctx.faces[f].kind != "cone" for f in leans)
