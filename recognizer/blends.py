"""Blends inside a cut: corner and floor radii and bevels. They belong to their pocket but are not sides of it.

True cases: a quarter cylinder tangent to two walls; a radius between floor and wall; a plane that takes a concave
edge off at equal angles. Look-alikes: an obround's end (it turns by 180 degrees), a wall of a regular polygon (all
walls turn by the same angle), a drafted wall (no upright wall stands on it).
"""

from __future__ import annotations

from collections.abc import Iterable

from recognizer.bulges import bulge
from recognizer.graph import connected
from recognizer.rule import Context
from recognizer.tilts import FLAT, tilt
from recognizer.vector import cross, dot, unit
from shared.units import Vector

CORNER_SPAN_DEG = 178.0
"""A hollow arc tangent to a wall on both sides is a corner radius up to this span, beyond it an obround's end."""
EQUAL_DEG = 0.5
CLEARLY_DEG = 2.0
SMALL_SHARE = 0.6


def blends_of(ctx: Context, faces: Iterable[int], d: Vector) -> frozenset[int]:
    """Faces of a body that are radii or bevels of it, seen along d."""
    body = frozenset(faces)
    found = {
        f
        for f in body
        if is_corner(ctx, f, body, d) or is_floor_radius(ctx, f, body, d) or is_floor_bevel(ctx, f, body, d)
    }
    found |= {f for f in body - found if _between_radii(ctx, f, found)}
    return frozenset(found | _corner_bevels(ctx, body, d))


def _between_radii(ctx: Context, face: int, radii: set[int]) -> bool:
    """A hollow free form that runs smoothly into two radii or more: where they meet, or where one was split."""
    beside = {n for n, _, sign in ctx.graph.links(face) if sign == "smooth"}
    return len(beside & radii) > 1 and bulge(ctx, face) < 0


def chains_of(ctx: Context, blends: Iterable[int]) -> list[list[int]]:
    """Blends apart by the edge that each eased: those that run smoothly into each other, or lie on one surface."""
    own = set(blends)
    ties = [(f, n) for f in own for n, _, sign in ctx.graph.links(f) if sign in ("smooth", "same") and n in own]
    ties += [(f, n) for f in own for n in ctx.graph.members[ctx.graph.group[f]] if n in own]
    return connected(own, ties)


def is_corner(ctx: Context, face: int, body: frozenset[int], d: Vector) -> bool:
    """A hollow arc that runs smoothly into a wall on both sides and turns by less than an obround's end."""
    f = ctx.faces[face]
    if f.kind == "sphere":
        return _is_ball_corner(ctx, face, body, d)
    if not ctx.graph.hollow(face) or f.span > CORNER_SPAN_DEG:
        return False
    walls = {n for n, _, sign in ctx.graph.links(face) if sign == "smooth" and n in body and _is_wall(ctx, n, d)}
    return len(walls) >= 2


def _is_ball_corner(ctx: Context, face: int, body: frozenset[int], d: Vector) -> bool:
    """Where two walls meet that are nothing but radii from the floor up, each level at its foot."""
    rounds = {
        n
        for n, _, sign in ctx.graph.links(face)
        if sign == "smooth" and n in body and ctx.faces[n].kind == "cylinder" and tilt(ctx, n, d)[1] > 0.9
    }
    return ctx.graph.hollow(face) and len(rounds) >= 2


def _is_wall(ctx: Context, face: int, d: Vector) -> bool:
    """Upright, or a drafted plane or cone; not a floor radius that runs round the arc's foot."""
    low, high = tilt(ctx, face, d)
    return abs(low) < 0.5 and (high < 10 * FLAT or (ctx.faces[face].kind in ("plane", "cone") and high < 0.5))


def is_floor_radius(ctx: Context, face: int, body: frozenset[int], d: Vector) -> bool:
    """A hollow radius that runs smoothly up from the floor into a wall; one as high as the pocket is deep is its wall."""
    if not (ctx.graph.hollow(face) or bulge(ctx, face) < 0) or ctx.faces[face].kind == "cone":
        return False
    beside = [n for n, _, sign in ctx.graph.links(face) if sign in ("smooth", "same") and n in body]
    tilts = [tilt(ctx, n, d) for n in beside]
    wall = any(abs(low) < 0.5 and high < 0.9 for low, high in tilts)
    if ctx.faces[face].kind == "sphere":
        return wall and len(beside) >= 2
    floor = any(low > 1 - FLAT for low, _ in tilts)
    if floor and wall and tilt(ctx, face, d)[1] > 0.9:
        return True
    return _eases(ctx, face, d) and any(is_floor_bevel(ctx, n, body, d) for n in beside)


def is_floor_bevel(ctx: Context, face: int, body: frozenset[int], d: Vector) -> bool:
    """A leaning plane or cone, concave to the floor below it and to an upright wall above it."""
    if ctx.faces[face].kind not in ("plane", "cone"):
        return False
    low, high = tilt(ctx, face, d)
    if low < 0.1 or high > 0.995:
        return False
    links = [(n, e) for n, e, sign in ctx.graph.links(face) if sign == "concave" and n in body]
    floor = any(tilt(ctx, n, d)[0] > 1 - FLAT for n, _ in links)
    links += [(n, e) for n, e, sign in ctx.graph.links(face) if sign == "smooth" and n in body and _eases(ctx, n, d)]
    wall = any(abs(tilt(ctx, n, d)[0]) < 10 * FLAT and _at_top(ctx, e, face, d) for n, e in links)
    return floor and wall


def _eases(ctx: Context, face: int, d: Vector) -> bool:
    """A hollow radius that runs smoothly up into an upright wall, from a bevel below it."""
    if not ctx.graph.hollow(face) or ctx.faces[face].kind not in ("cylinder", "torus"):
        return False
    return any(sign == "smooth" and tilt(ctx, n, d)[1] < 10 * FLAT for n, _, sign in ctx.graph.links(face))


def _at_top(ctx: Context, edge: int, face: int, d: Vector) -> bool:
    """The edge lies where the face ends along d: whatever stands on it starts there."""
    return dot(ctx.snapshot.edges[edge].middle, d) > ctx.extent(face, d)[1] - 4 * ctx.tol.length_mm


def _corner_bevels(ctx: Context, body: frozenset[int], d: Vector) -> set[int]:
    """Upright planes that take a corner off: equal turns at both edges, clearly smaller than the other corners' turns."""
    turns: dict[int, list[float]] = {}
    for f in sorted(body):
        if ctx.faces[f].kind == "plane" and abs(tilt(ctx, f, d)[0]) < 10 * FLAT:
            bends = [
                -ctx.snapshot.edges[e].bend
                for n, e, sign in ctx.graph.links(f)
                if sign == "concave" and _upright(ctx, n, body, d)
            ]
            if bends:
                turns[f] = bends
    ring = all(len(b) == 2 for b in turns.values())
    if len(turns) < (4 if ring else 3):
        return set()  # what is left would not be a corner
    pairs = {f: b for f, b in turns.items() if len(b) == 2 and abs(b[0] - b[1]) < EQUAL_DEG}
    found = set()
    for f, bends in pairs.items():
        near = {n for n, _, sign in ctx.graph.links(f) if sign == "concave"}
        others = [
            b for g, bs in turns.items() if g != f for b in bs if not (g in near and abs(b - bends[0]) < EQUAL_DEG)
        ]
        small = _width(ctx, f, d) < SMALL_SHARE * min((_width(ctx, g, d) for g in turns if g != f), default=0.0)
        if not others and small and abs(sum(bends) - 90) < EQUAL_DEG:
            found.add(f)  # two walls square to each other, their corner taken off
        if others and bends[0] < min(others) - CLEARLY_DEG and (bends[0] <= 45 + EQUAL_DEG or small):
            found.add(f)
    return found


def _width(ctx: Context, face: int, d: Vector) -> float:
    """Length of an upright plane wall seen along d."""
    low, high = ctx.extent(face, unit(cross(ctx.faces[face].surface.axis, d)))
    return high - low


def _upright(ctx: Context, face: int, body: frozenset[int], d: Vector) -> bool:
    return face in body and abs(tilt(ctx, face, d)[0]) < 10 * FLAT
