"""Tee slots that end in the part: the foot's walls go round its end, and the neck's above them.

True case: a keyhole tee slot, a tee slot whose cutter turned round at its end. Look-alikes: a passage onto which a
shorter slot opens (the neck does not follow the foot); one square passage that crosses another (nothing is round).
"""

from __future__ import annotations

from recognizer.rule import Claim, Context
from recognizer.vector import cross, dot, unit
from shared.findings import Finding
from shared.units import Vector

NECK_SHARE = 0.2
"""Of its foot's width is a neck at least, or no cutter's own neck would carry its head (common practice, no source)."""
WHOLE = 0.9
"""A neck covers at least this share of its foot's length."""


def blind_tee(ctx: Context, body: frozenset[int], floor: int, finding: Finding) -> Claim | None:
    """The claim of a body with `floor`, upright walls and ceilings from whose inner edges a neck of one width rises."""
    d = ctx.faces[floor].surface.axis
    ceilings = {f for f in body if _level(ctx, f, d) < 0}
    walls = {f for f in body if _upright(ctx, f, d)}
    floors = {f for f in body if _level(ctx, f, d) > 0}
    if not ceilings or walls | ceilings | floors != body or not any(ctx.faces[f].kind == "plane" for f in walls):
        return None
    necks = {n for c in ceilings for n in _rising(ctx, c, d) - body}
    if not necks or not any(ctx.graph.hollow(f) for f in walls):
        return None  # no cutter that turns leaves a square end
    sides = sorted(f for f in necks if ctx.faces[f].kind == "plane")
    if not sides:
        return None
    e = unit(cross(d, ctx.faces[max(sides, key=lambda f: round(ctx.faces[f].area, 3))].surface.axis))
    across = cross(e, d)
    roof = ctx.span(ceilings, d)[0]
    own = {f for f in walls if ctx.extent(f, d)[1] < roof + 0.01}  # without the hole by which a cutter enters
    if not own:
        return None
    (neck, foot), (short, long) = ([ctx.span(s, a) for s in (necks, own)] for a in (across, e))
    width, wide, length = neck[1] - neck[0], foot[1] - foot[0], long[1] - long[0]
    if (
        not NECK_SHARE * wide < width < wide - 0.02
        or short[1] - short[0] < WHOLE * length - (wide - width)
        or length < wide
    ):
        return None
    faces = body | necks
    low, high = ctx.span(floors, d)[0], ctx.span(faces, d)[1]
    return Claim(
        "undercut",
        faces,
        d,
        [
            f"a foot {wide:.4g} mm wide lies under a neck of {width:.4g} mm: no plain cutter sees its ceilings",
            "a tee slot that ends in the part: slot the neck first, then a t_slot_mill that enters at an open end",
        ],
        bottom=frozenset(floors),
        walls=faces - floors,
        bottom_condition="planar",
        profile="tee",
        dimensions={
            "width": width,
            "depth": high - low,
            "foot_width": wide,
            "foot_height": roof - low,
            "length": length,
        },
        findings=[finding.model_copy(update={"faces": sorted(faces)})],
    )


def _level(ctx: Context, face: int, d: Vector) -> int:
    """1 for a plane that faces d, -1 for one that faces away, 0 for all else."""
    s = ctx.faces[face].surface
    return round(dot(s.axis, d)) if s.kind == "plane" and abs(dot(s.axis, d)) > 1 - 1e-6 else 0


def _upright(ctx: Context, face: int, d: Vector) -> bool:
    s = ctx.faces[face].surface
    if s.kind == "plane":
        return abs(dot(s.axis, d)) < 1e-6
    return s.kind == "cylinder" and abs(dot(s.axis, d)) > 1 - 1e-6


def _rising(ctx: Context, ceiling: int, d: Vector) -> set[int]:
    """Upright walls above a ceiling's convex edges."""
    level = ctx.span([ceiling], d)[0]
    return {
        n
        for n, _, sign in ctx.graph.links(ceiling)
        if sign == "convex" and n not in ctx.box_faces and _upright(ctx, n, d) and ctx.extent(n, d)[0] > level - 0.01
    }
