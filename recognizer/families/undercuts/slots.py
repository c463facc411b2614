"""Tee and dovetail slots.

True cases: a floor, two sides, and ceilings over part of it from whose inner edges the neck rises; a floor between two
walls that lean over it. Look-alikes: a rectangular passage (its ceiling is whole); a vee slot (it has no floor).
"""

from __future__ import annotations

from math import degrees

from recognizer.bodies import bodies
from recognizer.families.undercuts.blind import blind_tee
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
        plain = all(ctx.faces[f].kind == "plane" for f in body)
        axes = {f: ctx.faces[f].surface.axis for f in sorted(body) if ctx.faces[f].kind == "plane"}
        for floor, d in axes.items():
            lowest = min(dot(axis, d) for axis in axes.values())
            if lowest > -0.1:
                continue  # nothing hangs over this floor
            claim = (_tee(ctx, body, floor) or _dovetail(ctx, body, floor)) if plain else None
            claim = claim or (lowest < -SQUARE and blind_tee(ctx, body, floor, _finding("t_slot_mill", body))) or None
            if claim:
                found.append(claim)
                break
    return found


def _tee(ctx: Context, body: frozenset[int], floor: int) -> Claim | None:
    d = ctx.faces[floor].surface.axis
    ceilings = [f for f in body if dot(ctx.faces[f].surface.axis, d) < -SQUARE]
    necks = {n for c in ceilings for n in _necks(ctx, c, d, body)}
    if not ceilings or not necks:
        return None
    sides = [f for f in body if abs(dot(ctx.faces[f].surface.axis, d)) < 1e-6]
    e = unit(cross(d, ctx.faces[min(necks)].surface.axis))
    across = cross(e, d)
    if len(sides) + len(ceilings) + 1 < len(body) or any(abs(dot(ctx.faces[f].surface.axis, e)) > 1e-6 for f in body):
        return None
    faces = body | necks
    if _length(ctx, frozenset(necks), e) < WHOLE * _length(ctx, body, e) or _plain(ctx, body, e):
        return None
    width = _gap(ctx, necks, across)
    low, high = ctx.span(faces, d)
    foot = ctx.span(body, across)
    roof = ctx.span(ceilings, d)[1]
    return Claim(
        "undercut",
        frozenset(faces),
        d,
        [
            f"a foot {foot[1] - foot[0]:.4g} mm wide lies under a neck of {width:.4g} mm: no plain cutter sees its ceilings",
            "a tee slot: slot the neck first, then a t_slot_mill that enters at an open end",
        ],
        bottom=frozenset([floor]),
        walls=frozenset(faces - {floor}),
        bottom_condition="planar",
        profile="tee",
        dimensions={
            "width": width,
            "depth": high - low,
            "foot_width": foot[1] - foot[0],
            "foot_height": roof - low,
            "length": _length(ctx, faces, e),
        },
        findings=[_finding("t_slot_mill", faces)],
    )


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
    others = sorted(body - {floor})
    tilts = {f: dot(ctx.faces[f].surface.axis, d) for f in others}
    leaning = [f for f in others if -0.95 < tilts[f] < -0.1]
    if not leaning or any(t > 1e-6 for t in tilts.values()) or any(t < -0.95 for t in tilts.values()):
        return None
    if any(not _concave_to(ctx, f, floor) for f in leaning) or len(others) - len(leaning) > 1:
        return None
    if any(not set(look.reading.walls) or look.reading.floors or not look.outline.opens for look in looks(ctx, body)):
        return None  # some direction reads it as a plain pocket or step
    e = unit(cross(d, ctx.faces[leaning[0]].surface.axis))
    across = cross(e, d)
    low, high = ctx.span(body, d)
    foot = ctx.span([floor], across)
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
        bottom=frozenset([floor]),
        walls=body - {floor},
        bottom_condition="planar",
        profile="general",
        dimensions={"length": _length(ctx, body, e), "width": mouth, "depth": high - low, "flank_angle": angle},
        findings=[_finding("dovetail_mill", body)],
    )


def _asin(x: float) -> float:
    from math import asin

    return asin(max(-1.0, min(1.0, x)))


def _concave_to(ctx: Context, face: int, floor: int) -> bool:
    return any(n == floor and sign == "concave" for n, _, sign in ctx.graph.links(face))


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
