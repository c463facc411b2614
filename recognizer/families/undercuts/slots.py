"""Tee and dovetail slots.

True cases: a floor, two sides, and ceilings over part of it from whose inner edges the neck rises; a floor between two
walls that lean over it. Look-alikes: a rectangular passage (its ceiling is whole); a vee slot (it has no floor).
"""

from __future__ import annotations

from math import degrees

from recognizer.bodies import bodies
from recognizer.families.undercuts.blind import NECK_SHARE, blind_tee
from recognizer.families.undercuts.crossed import apart, arms_of, with_entry
from recognizer.families.undercuts.onesided import half_dovetail
from recognizer.families.undercuts.relieved import relieved_dovetails
from recognizer.rule import Claim, Context
from recognizer.vector import cross, dot, unit
from recognizer.views import looks
from shared.findings import Finding
from shared.units import Vector

SQUARE = 1 - 1e-6
WHOLE = 0.9
"""A neck runs along at least this share of its foot: a shorter one is a slot that crosses a passage."""


def undercut_slots(ctx: Context) -> list[Claim]:
    """One claim a tee or dovetail slot."""
    found = relieved_dovetails(ctx, _finding("dovetail_mill", frozenset()))
    taken = {f for c in found for f in c.faces}
    for body in bodies(ctx):
        if body & taken or not all(ctx.faces[f].kind in ("plane", "cylinder") for f in body):
            continue
        half = half_dovetail(ctx, body, _finding("dovetail_mill", body))
        found += [half] if half else []
        if half or len(body) < 3:
            continue
        axes = {f: ctx.faces[f].surface.axis for f in sorted(body) if ctx.faces[f].kind == "plane"}
        for floor, d in axes.items():
            lowest = min(dot(axis, d) for axis in axes.values())
            if lowest > -0.1:
                continue  # nothing hangs over this floor
            claims = _plain_slots(ctx, body, floor)
            if not claims and lowest < -SQUARE:
                blind = blind_tee(ctx, body, floor, _finding("t_slot_mill", body))
                claims = [blind] if blind else []
            found += claims
            if claims:
                break
    for c in found:
        ctx.taken_floors.update((f, c.faces - c.bottom) for f in c.bottom)
    return found


def _plain_slots(ctx: Context, body: frozenset[int], floor: int) -> list[Claim]:
    """The tee or dovetail slot of a body of planes, or both of two that cross; floor and ceilings are the first one's. The
    walls of a plain slot that crosses it on the same floor are left to the rule of pockets.

    The only round walls that a dovetail may have are those of the hole on its floor by which its cutter enters.
    """
    rounds = frozenset(f for f in body if ctx.faces[f].kind == "cylinder")
    if rounds:
        claim = _dovetail(ctx, body - rounds, floor) if _are_entries(ctx, rounds, floor) else None
        return [with_entry(claim, rounds)] if claim else []
    arms = arms_of(ctx, body, floor) or [body]
    return apart([claim for arm in arms if (claim := _tee(ctx, arm, floor) or _dovetail(ctx, arm, floor))])


def _tee(ctx: Context, body: frozenset[int], floor: int) -> Claim | None:
    d = ctx.faces[floor].surface.axis
    ceilings = [f for f in body if dot(ctx.faces[f].surface.axis, d) < -SQUARE]
    sides = [f for f in body if abs(dot(ctx.faces[f].surface.axis, d)) < 1e-6]
    if not ceilings or not sides:
        return None
    floors = _level_with(ctx, body, floor)
    e = unit(cross(d, ctx.faces[min(sides)].surface.axis))
    necks = {n for c in ceilings for n in _necks(ctx, c, d, body) if abs(dot(ctx.faces[n].surface.axis, e)) < 1e-6}
    across = cross(e, d)
    if len(sides) + len(ceilings) + len(floors) < len(body):
        return None
    if not necks or any(abs(dot(ctx.faces[f].surface.axis, e)) > 1e-6 for f in body):
        return None
    faces = body | necks
    if _length(ctx, frozenset(necks), e) < WHOLE * _length(ctx, frozenset(sides), e) or _plain(ctx, body, e):
        return None
    low, high = ctx.span(faces, d)
    foot = ctx.span(sides, across)
    roof = ctx.span(ceilings, d)[1]
    width = _gap(ctx, necks | {f for f in sides if ctx.extent(f, d)[1] > roof + 0.01}, across)
    if not NECK_SHARE * (foot[1] - foot[0]) < width < foot[1] - foot[0] - 0.02 or not _face_in(ctx, sides, across):
        return None
    return Claim(
        "undercut",
        frozenset(faces),
        d,
        [
            f"a foot {foot[1] - foot[0]:.4g} mm wide lies under a neck of {width:.4g} mm: no plain cutter sees its ceilings",
            "a tee slot: slot the neck first, then a t_slot_mill that enters at an open end",
        ],
        bottom=floors,
        walls=faces - floors,
        bottom_condition="planar",
        profile="tee",
        dimensions={
            "width": width,
            "depth": high - low,
            "foot_width": foot[1] - foot[0],
            "foot_height": roof - low,
            "length": _length(ctx, frozenset(sides), e),
        },
        findings=[_finding("t_slot_mill", faces)],
    )


def _face_in(ctx: Context, walls: list[int], across: Vector) -> bool:
    """Whether walls look at what lies between them, not away as those of a rib or a mushroom's neck."""
    low, high = ctx.span(walls, across)
    spans = ((f, ctx.extent(f, across)) for f in walls)
    return all((a + b > low + high) == (dot(ctx.faces[f].surface.axis, across) < 0) for f, (a, b) in spans)


def _plain(ctx: Context, body: frozenset[int], e: Vector) -> bool:
    """The foot is itself a slot or a step that a plain cutter sees from beside: what opens on it is another cut."""
    return any(look.reading.floors and abs(dot(look.d, e)) < 1e-6 for look in looks(ctx, body))


def _necks(ctx: Context, ceiling: int, d: Vector, body: frozenset[int]) -> list[int]:
    """Walls that rise along d from a ceiling's sharp inner edge."""
    out = []
    for n, e, sign in ctx.graph.links(ceiling):
        s = ctx.faces[n].surface
        upright = s.kind == "plane" and abs(dot(s.axis, d)) < 1e-6 and sign == "convex" and n not in body
        rises = upright and ctx.extent(n, d)[0] > dot(ctx.snapshot.edges[e].middle, d) - 0.01
        if rises and n not in ctx.box_faces:
            out.append(n)
    return out


def _gap(ctx: Context, necks: set[int], across: Vector) -> float:
    low, high = ctx.span(necks, across)
    return high - low


def _length(ctx: Context, faces: frozenset[int], e: Vector) -> float:
    low, high = ctx.span(faces, e)
    return high - low


def _dovetail(ctx: Context, body: frozenset[int], floor: int) -> Claim | None:
    d = ctx.faces[floor].surface.axis
    floors = _level_with(ctx, body, floor)
    others = sorted(body - floors)
    tilts = {f: dot(ctx.faces[f].surface.axis, d) for f in others}
    leaning = [f for f in others if -0.95 < tilts[f] < -0.1]
    if not leaning or any(t > 1e-6 for t in tilts.values()) or any(t < -0.95 for t in tilts.values()):
        return None
    ends = {ctx.graph.group[f] for f in others if f not in leaning}
    if any(not _concave_to(ctx, f, floors) for f in leaning) or len(ends) > 1:
        return None
    if any(not set(look.reading.walls) or look.reading.floors or not look.outline.opens for look in looks(ctx, body)):
        return None  # some direction reads it as a plain pocket or step
    e = unit(cross(d, ctx.faces[leaning[0]].surface.axis))
    across = cross(e, d)
    low, high = ctx.span(body, d)
    foot = ctx.span(leaning, across)
    if not _face_in(ctx, leaning, across):
        return None
    top = [p for f in others for p in _top_points(ctx, f, d)]
    mouth = max(dot(p, across) for p in top) - min(dot(p, across) for p in top)
    # Flank angle: between flank and floor, inside the slot's foot.
    angle = 90 - degrees(_asin(-tilts[leaning[0]]))
    return Claim(
        "undercut",
        body,
        d,
        [
            f"{len(leaning)} wall(s) lean {angle:.4g} degrees over a floor {foot[1] - foot[0]:.4g} mm wide: no plain cutter sees them",
            "a dovetail slot: clear the mouth first, then a dovetail_mill of that angle that enters at an open end",
        ],
        bottom=floors,
        walls=body - floors,
        bottom_condition="planar",
        profile="general",
        dimensions={
            "length": _length(ctx, frozenset(others), e),
            "width": mouth,
            "depth": high - low,
            "flank_angle": angle,
        },
        findings=[_finding("dovetail_mill", body)],
    )


def _asin(x: float) -> float:
    from math import asin

    return asin(max(-1.0, min(1.0, x)))


def _are_entries(ctx: Context, rounds: frozenset[int], floor: int) -> bool:
    d = ctx.faces[floor].surface.axis
    upright = all(ctx.graph.hollow(f) and abs(dot(ctx.faces[f].surface.axis, d)) > SQUARE for f in rounds)
    return upright and all(_concave_to(ctx, f, frozenset([floor])) for f in rounds)


def _level_with(ctx: Context, body: frozenset[int], floor: int) -> frozenset[int]:
    """What other cuts have left of a floor."""
    return frozenset(f for f in body if ctx.graph.group[f] == ctx.graph.group[floor])


def _concave_to(ctx: Context, face: int, floors: frozenset[int]) -> bool:
    return any(n in floors and sign == "concave" for n, _, sign in ctx.graph.links(face))


def _top_points(ctx: Context, face: int, d: Vector) -> list[Vector]:
    high = ctx.extent(face, d)[1]
    points = [p for e in ctx.snapshot.face_edges[face] for p in ctx.snapshot.edges[e].points]
    return [p for p in points if dot(p, d) > high - 0.01]


def _finding(cutter: str, faces: frozenset[int]) -> Finding:
    return Finding(
        code="undercut",
        severity="warning",
        message=f"an undercut needs a {cutter}; a plain end mill cannot reach it",
        hint="check that the cutter's neck passes the mouth and that it can enter at an open end",
        faces=sorted(faces),
    )
