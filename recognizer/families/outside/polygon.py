"""A many-sided outline: planes all round, of which two that meet are askew to the part's box.

True case: a hexagonal plate or head. Look-alike: a block with chamfered upright edges (between two chamfers lies a side
of the block).
"""

from __future__ import annotations

from recognizer.families.outside.walls import along, as_wide_as_the_part, askew_corner, taller_than_wide
from recognizer.graph import connected
from recognizer.rule import Context
from recognizer.vector import dot
from shared.units import Vector


def many_sided(ctx: Context, d: Vector) -> list[frozenset[int]]:
    """Closed rings of planes along d that only turn outwards, as wide as the part and no taller than it is wide."""
    planes = {f.index for f in ctx.faces if f.kind == "plane" and abs(dot(f.surface.axis, d)) < 1e-6} - ctx.claimed
    beside = {
        f: [(n, e, sign) for n, e, sign in ctx.graph.links(f) if n in planes and along(ctx, e, d)] for f in planes
    }
    pieces = connected(planes, ((f, n) for f, links in beside.items() for n, _, _ in links))
    return [frozenset(c) for c in pieces if _is_polygon(ctx, {f: beside[f] for f in c}, d)]


def _is_polygon(ctx: Context, ring: dict[int, list[tuple[int, int, str]]], d: Vector) -> bool:
    if any(len(links) != 2 or any(sign != "convex" for _, _, sign in links) for links in ring.values()):
        return False
    if not any(askew_corner(ctx, e) for links in ring.values() for _, e, _ in links):
        return False
    return as_wide_as_the_part(ctx, set(ring), d) and not taller_than_wide(ctx, set(ring), d)
