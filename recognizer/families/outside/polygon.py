"""A many-sided outline: planes all round, of which two that meet are askew to the part's box.

True cases: a hexagonal plate or head; a star, a ratchet or a gear drawn in straight lines. Look-alikes: a block with
chamfered upright edges (between two chamfers lies a side of the block); a block with vee notches (most of it is square).
"""

from __future__ import annotations

from recognizer.families.outside.walls import along, as_wide_as_the_part, askew_corner, is_askew, taller_than_wide
from recognizer.graph import connected
from recognizer.rule import Context
from recognizer.vector import dot
from shared.units import Vector

ASKEW_SHARE = 0.6
"""Of a toothed outline's area is askew to the box at least."""
TEETH = 5


def many_sided(ctx: Context, d: Vector) -> list[frozenset[int]]:
    """Closed rings of planes along d, as wide as the part and no taller than it is wide, that only turn outwards or have teeth."""
    planes = {f.index for f in ctx.faces if f.kind == "plane" and abs(dot(f.surface.axis, d)) < 1e-6} - ctx.claimed
    beside = {
        f: [(n, e, sign) for n, e, sign in ctx.graph.links(f) if n in planes and along(ctx, e, d)] for f in planes
    }
    pieces = connected(planes, ((f, n) for f, links in beside.items() for n, _, _ in links))
    return [frozenset(c) for c in pieces if _is_polygon(ctx, {f: beside[f] for f in c}, d)]


def _is_polygon(ctx: Context, ring: dict[int, list[tuple[int, int, str]]], d: Vector) -> bool:
    if any(len({n for n, _, _ in links}) != 2 for links in ring.values()):
        return False
    inner = sum(sign == "concave" for links in ring.values() for _, _, sign in links) // 2
    if inner and not _toothed(ctx, set(ring), inner):
        return False
    if not inner and not any(askew_corner(ctx, e) for links in ring.values() for _, e, _ in links):
        return False
    return as_wide_as_the_part(ctx, set(ring), d) and not taller_than_wide(ctx, set(ring), d)


def _toothed(ctx: Context, ring: set[int], inner: int) -> bool:
    """Whether a ring that turns inwards again and again is mostly askew to the box: its gaps are no cuts into a block."""
    whole = sum(ctx.faces[f].area for f in ring)
    askew = sum(ctx.faces[f].area for f in ring if is_askew(ctx, f))
    return inner >= TEETH and askew > ASKEW_SHARE * whole
