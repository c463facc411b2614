"""Ring grooves round the outside: a round wall between two flat sides that face each other.

True cases: an O-ring's or retaining ring's groove on a spigot; the waist of a pulley. Look-alikes: a ring groove in a flat
face (its walls stand on a floor); a step from one diameter to the next (one side only).
"""

from __future__ import annotations

from collections import defaultdict

from recognizer.rule import Claim, Context
from recognizer.vector import cross, dot, length, neg, sub
from shared.findings import Finding
from shared.units import Vector

FULL_DEG = 300.0
"""So much of the turn at least is left where other cuts cross the groove."""


def ring_grooves(ctx: Context) -> list[Claim]:
    """One claim a groove: its wall and both sides."""
    free = set(ctx.free())
    groups: dict[int, list[int]] = defaultdict(list)
    for f in sorted(free):
        if ctx.faces[f].kind == "cylinder" and not ctx.graph.hollow(f):
            groups[ctx.graph.group[f]].append(f)
    found = []
    for walls in groups.values():
        claim = _groove(ctx, walls, free) if sum(ctx.faces[f].span for f in walls) > FULL_DEG else None
        if claim:
            found.append(claim)
    return found


def _groove(ctx: Context, walls: list[int], free: set[int]) -> Claim | None:
    surface = ctx.faces[walls[0]].surface
    d = surface.axis
    low, high = ctx.span(walls, d)
    sides = {n for f in walls for n, _, sign in ctx.graph.links(f) if sign == "concave" and n in free}
    below = sorted(n for n in sides if _side(ctx, n, d, low))
    above = sorted(n for n in sides if _side(ctx, n, neg(d), -high))
    outer = [r for r in (_rim(ctx, s, surface.origin, d) for s in (below, above)) if r]
    if not below or not above or not outer or min(outer) <= surface.radius:
        return None
    faces = frozenset([*walls, *below, *above])
    deep = min(outer) - surface.radius
    return Claim(
        "undercut",
        faces,
        d,
        [
            f"a ring groove round the outside: {2 * surface.radius:.4g} mm between two sides {high - low:.4g} mm apart",
            "a t_slot_mill that goes round it, or turning: no plain cutter sees its sides along the axis",
        ],
        walls=faces,
        profile="general",
        dimensions={
            "groove_diameter": 2 * surface.radius,
            "outer_diameter": 2 * min(outer),
            "height": high - low,
            "side": deep,
        },
        findings=[_finding(faces, high - low, deep)],
    )


def _side(ctx: Context, face: int, d: Vector, level: float) -> bool:
    """A plane that faces d at a level: the lower side of a groove."""
    s = ctx.faces[face].surface
    return s.kind == "plane" and dot(s.axis, d) > 1 - 1e-6 and abs(dot(s.origin, d) - level) < 4 * ctx.tol.length_mm


def _rim(ctx: Context, sides: list[int], origin: Vector, d: Vector) -> float | None:
    """Radius of the sides' outer rim, where that is round about the axis."""
    radii = [
        e.radius
        for f in sides
        for e in (ctx.snapshot.edges[k] for k, _ in ctx.faces[f].loops[0])
        if e.curve == "circle" and e.centre and length(cross(sub(e.centre, origin), d)) < 1e-3
    ]
    return max(radii, default=None)


def _finding(faces: frozenset[int], height: float, deep: float) -> Finding:
    return Finding(
        code="undercut",
        severity="warning",
        message=f"a ring groove {deep:.3g} mm deep and {height:.3g} mm wide round the outside needs a t_slot_mill or a lathe",
        hint="turn it, or check that a t_slot_mill can go all round and that nothing holds the part there",
        faces=sorted(faces),
    )
