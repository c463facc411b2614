"""Cones at the bottom of a hole: drills' points, whole or opened by another cut, and bevels of floors."""

from __future__ import annotations

from recognizer.families.holes.bores import Bore
from recognizer.rule import Context
from recognizer.vector import dot
from shared.units import Vector

POINT_DEG = (85.0, 150.0)
"""Points of drills: 90 for soft stuff, 118 and 140 as a rule (DIN 1414-1 from memory, and common practice)."""
FLAT_POINT_DEG = (115.0, 142.0)
"""Of a cone that ends in a circle, as a mouth in a flat side would: only the usual points, 118 to 140."""


def is_tip(ctx: Context, b: Bore, run: list[Bore]) -> bool:
    """Whether a bore of a run along one axis is the point at its bottom, whole or opened by another cut."""
    return _whole_tip(b) or _opened_point(ctx, b, run)


def _whole_tip(b: Bore) -> bool:
    """A cone that comes to a point: a drill's point at the bottom."""
    if b.surface.kind != "cone":
        return False
    low, high = b.levels
    return min(b.radius_at(low), b.radius_at(high)) < 0.02 * max(b.radius_at(low), b.radius_at(high)) + 1e-3


def _opened_point(ctx: Context, b: Bore, run: list[Bore]) -> bool:
    """A drill's point whose tip another cut took away: the last cone of a hole, as wide as the cylinder before it.

    Look-alike: a bore that tapers to a smaller mouth in a flat side, at an angle that no drill's point has.
    """
    if b.surface.kind != "cone" or len(run) < 2 or b not in (run[0], run[-1]):
        return False
    before, way = (run[1], -1) if b is run[0] else (run[-2], 1)
    low, high = b.levels
    wide = max(b.radius_at(low), b.radius_at(high))
    if before.surface.kind != "cylinder" or abs(before.surface.radius - wide) > ctx.tol.length_mm:
        return False
    if points(b, run[0].axis) != way:
        return False
    flat = any(ctx.snapshot.edges[e].curve == "circle" for e in _far_edges(ctx, b, before))
    least, most = FLAT_POINT_DEG if flat else POINT_DEG
    return least <= 2 * abs(b.surface.half_angle) <= most


def _far_edges(ctx: Context, b: Bore, before: Bore) -> list[int]:
    """Edges of a cone but for those at the cylinder before it and its own seam."""
    return [e for f in b.faces for n, e, _ in ctx.graph.links(f) if n not in before.faces and n not in b.faces]


def points(b: Bore, axis: Vector) -> int:
    """+1 where a tip's point lies at the higher level along `axis`."""
    low, high = b.levels
    way = 1 if dot(b.axis, axis) > 0 else -1
    return way if b.radius_at(high) < b.radius_at(low) else -way


def is_bevel(ctx: Context, b: Bore, floors: list[int]) -> bool:
    """A cone between a bore and its floor, concave to both: the floor's bevelled edge."""
    links = [(n, sign) for f in b.faces for n, _, sign in ctx.graph.links(f) if n not in b.faces]
    return (
        b.surface.kind == "cone"
        and bool(links)
        and all(sign == "concave" for _, sign in links)
        and any(n in floors for n, _ in links)
        and any(n not in floors for n, _ in links)
    )
