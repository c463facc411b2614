"""Pockets, steps and slots: bodies whose sides decide their kind.

True cases: floor and four walls, closed_pocket; floor and one wall, step; floor between two facing walls, slot.
Look-alikes: a floor with a wall on one side that is an island's (open_pocket or step by its outline, not a boss);
a half cylinder with sharp edges (a slot of circular section, not a hole).
"""

from __future__ import annotations

from itertools import combinations

from recognizer.bodies import bodies, one_body
from recognizer.families.pockets.crossing import split
from recognizer.families.pockets.slits import slits
from recognizer.graph import connected
from recognizer.parted import parted
from recognizer.rule import Claim, Context
from recognizer.tilts import tilt
from recognizer.vector import dot
from recognizer.vees import relieved_vees
from recognizer.views import Look, blend_top, in_the_way, looks, profile_of


def pockets(ctx: Context) -> list[Claim]:
    """One claim a body of two faces or more, or of a hollow face."""
    free = set(ctx.free())
    pairs = [pair for pair in relieved_vees(ctx) if pair <= free] + slits(ctx)
    found = [c for c in (pocket_claim(ctx, pair) for pair in pairs) if c]
    taken = {f for c in found for f in c.faces}
    for body in standing_together(ctx, bodies(ctx)):
        if body & taken:
            continue
        claim = on_taken_floor(ctx, body)
        if not claim and len({ctx.graph.group[f] for f in body}) < 2 and not any(ctx.graph.hollow(f) for f in body):
            continue
        claim = claim or pocket_claim(ctx, body)
        parts = [claim] if claim else crossed(ctx, body)
        for c in parts:
            found += bossed(ctx, c) if c.kind == "planar_face" else [c]
    closed = {f for c in found if c.kind == "closed_pocket" for f in c.faces}
    return [_unshut(ctx, c, closed) for c in found]


def standing_together(ctx: Context, found: list[frozenset[int]]) -> list[frozenset[int]]:
    """Bodies, those made one that face each other over one floor that a hole or an undercut owns."""
    floors = [taken_floor(ctx, body) for body in found]
    pairs = combinations([k for k, floor in enumerate(floors) if floor is not None], 2)
    ties = [
        (a, b)
        for a, b in pairs
        if floors[a] == floors[b] and one_body(ctx, found[a], found[b]) and not parted(ctx, found[a], found[b])
    ]
    if not ties:
        return found
    return [frozenset().union(*(found[k] for k in group)) for group in connected(range(len(found)), ties)]


def taken_floor(ctx: Context, body: frozenset[int]) -> int | None:
    """The floor on which all upright walls of a body stand, where a hole or an undercut owns it."""
    if not ctx.taken_floors:
        return None
    floors = {n for f in body for n, _, sign in ctx.graph.links(f) if sign == "concave" and n in ctx.taken_floors}
    floor = min(floors - body, default=None)
    if floor is None:
        return None
    d = ctx.faces[floor].surface.axis
    upright = all(tilt(ctx, f, d)[1] < 1e-6 and tilt(ctx, f, d)[0] > -1e-6 for f in body)
    return floor if upright and ctx.span(body, d)[0] > ctx.extent(floor, d)[0] - 0.01 else None


def on_taken_floor(ctx: Context, body: frozenset[int]) -> Claim | None:
    """The claim of walls on another feature's floor: a keyway, a keyhole's slot, a slot across a tee slot's foot."""
    floor = taken_floor(ctx, body)
    if floor is None:
        return None
    claim = pocket_claim(ctx, body | {floor})
    return (
        owning(claim, body, frozenset([floor]), "its floor runs on in another feature, which owns it")
        if claim
        else None
    )


def owning(claim: Claim, own: frozenset[int], shared: frozenset[int], why: str) -> Claim:
    """A claim that owns only some of its faces."""
    claim.faces, claim.shared = own, shared
    claim.bottom, claim.walls, claim.blends = claim.bottom & own, claim.walls & own, claim.blends & own
    if shared:
        claim.because.append(why)
    return claim


def crossed(ctx: Context, body: frozenset[int]) -> list[Claim]:
    """Claims of the passages whose faces have run together in a body that no direction reads."""
    found = []
    for own, shared in split(ctx, body):
        claim = pocket_claim(ctx, own | shared)
        if claim:
            found.append(
                owning(claim, own, shared, f"{len(shared)} of its faces run on in a crossing feature, which owns them")
            )
    return found


def _unshut(ctx: Context, claim: Claim, closed: set[int]) -> Claim:
    """A ring that was begun on an open face and runs on under material is named by its open stretch."""
    if claim.kind != "closed_pocket":
        return claim
    shut = mouth_planes(ctx, claim.faces, closed)
    other = pocket_claim(ctx, claim.faces, shut) if shut else None
    return other if other and other.kind != "planar_face" else claim


def bossed(ctx: Context, claim: Claim) -> list[Claim]:
    """An open floor on which islands stand: the floor is a planar_face, each island a boss."""
    found = [
        Claim(
            "planar_face",
            claim.faces - claim.walls,
            claim.direction,
            ["floor with no closed side: whatever stands on it is a boss"],
            bottom=claim.bottom,
        )
    ]
    for walls in ctx.graph.pieces(claim.walls):
        faces = frozenset(walls)
        low, high = ctx.span(faces, claim.direction)
        cylinders = {ctx.graph.group[f] for f in faces}
        surface = ctx.faces[walls[0]].surface
        foot = max((v for f in claim.bottom if (v := ctx.extent(f, claim.direction)[0]) < low + 0.01), default=low)
        size = {"height": blend_top(ctx, faces, claim.direction, high) - foot}
        if len(cylinders) == 1 and surface.kind == "cylinder":
            size["diameter"] = 2 * surface.radius
        found.append(
            Claim(
                "boss",
                faces,
                claim.direction,
                [f"{len(walls)} upright wall(s) round material that stands on an open floor"],
                walls=faces,
                dimensions=size,
            )
        )
    return found


def pocket_claim(ctx: Context, body: frozenset[int], shut: frozenset[int] = frozenset()) -> Claim | None:
    """The claim of a body named from its best direction, or None where every direction has a face turned away."""
    seen = looks(ctx, body - shut)
    if not seen:
        return None
    best = seen[0]
    if _round_ended(ctx, best) and in_the_way(ctx, best)[0] > ctx.tol.share:
        best = next((k for k in seen if in_the_way(ctx, k)[0] <= ctx.tol.share), best)
    kind = best.kind
    return Claim(
        kind,
        body,
        best.d,
        _because(best) + (["over part of its length a face in the plane of its mouth shuts it"] if shut else []),
        bottom=frozenset(best.reading.floors),
        walls=frozenset(best.reading.walls + best.reading.leans) - best.reading.blends,
        blends=best.reading.blends,
        shut=shut,
        through=best.through,
        profile=profile_of(ctx, best),
    )


def _round_ended(ctx: Context, look: Look) -> bool:
    """What is seen first is nothing but the round end of a cut: its floor only if the cut opens before it."""
    r = look.reading
    return not r.floors and all(ctx.graph.hollow(f) and ctx.faces[f].kind == "cylinder" for f in r.leans)


def mouth_planes(ctx: Context, body: frozenset[int], closed: set[int]) -> frozenset[int]:
    """Faces of a ring that lie back to back with a face beside it, in one plane: the plane of its mouth.

    The cut was begun on that face and runs on under the material beyond it. Where the face beside it bounds a ring
    itself (`closed`), two passages touch and neither was begun on the other.
    """
    beside = {
        n for f in body for n, _, sign in ctx.graph.links(f) if n not in body and n not in closed and sign == "convex"
    }
    found = set()
    for f in body:
        s = ctx.faces[f].surface
        if s.kind != "plane":
            continue
        for n in beside:
            t = ctx.faces[n].surface
            if (
                t.kind == "plane"
                and dot(s.axis, t.axis) < -1 + 1e-9
                and abs(s.offset + t.offset) < 2 * ctx.tol.length_mm
            ):
                found.add(f)
    return frozenset(found) if len(body - found) > 1 else frozenset()


def _because(look: Look) -> list[str]:
    closed, opens = len(look.outline.closed), len(look.outline.opens)
    floor = "no floor: it goes right through" if look.through else f"{len(look.reading.floors)} floor face(s)"
    if look.reading.leans and not look.reading.floors:
        floor = "no flat floor: its walls lean"
    text = f"{closed} closed and {opens} open side(s), {floor}"
    reason = {
        "closed_pocket": "no open side makes it a closed_pocket",
        "step": "one straight wall makes it a step",
        "slot": "two facing parallel walls with open ends make it a slot",
        "open_pocket": "some sides open, some closed make it an open_pocket",
        "planar_face": "no wall rises on any side",
    }[look.kind]
    return [text, reason]
