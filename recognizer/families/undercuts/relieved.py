"""Dovetail slots whose inner corners are relieved: between the floor and each flank lies a narrow groove of any form.

True case: a dovetail with an undercut of a saw's width, or with a drilled corner. Look-alike: a tee slot (nothing leans).
"""

from __future__ import annotations

from math import asin, degrees

from recognizer.rule import Claim, Context
from recognizer.vector import cross, dot, unit
from shared.features import HOLE_KINDS
from shared.findings import Finding
from shared.units import Vector

NARROW = 0.4
"""A relief is narrower than this share of its slot's floor."""
LEAN = (0.1, 0.95)
"""Cosines between a flank's normal and the way down."""


def relieved_dovetails(ctx: Context, finding: Finding) -> list[Claim]:
    """One claim a dovetail: floor, both flanks and the reliefs between. finding: what is said of each."""
    free = {f for f in ctx.free() if f not in ctx.box_faces}
    planes = [f for f in sorted(free) if ctx.faces[f].kind == "plane"]
    axes = {ctx.faces[f].surface.axis for f in planes}
    bored = {f for c in ctx.claims if c.kind in HOLE_KINDS for f in c.faces}
    found: list[Claim] = []
    for floor in planes:
        d = ctx.faces[floor].surface.axis
        if not any(-LEAN[1] < dot(axis, d) < -LEAN[0] for axis in axes):
            continue
        claim = _claim(ctx, floor, (free | bored) - {f for c in found for f in c.faces}, finding)
        if claim:  # a drilled corner stays a hole
            claim.shared = claim.faces & bored
            claim.faces, claim.walls = claim.faces - bored, claim.walls - bored
        if claim:
            found.append(claim)
    return found


def _claim(ctx: Context, floor: int, free: set[int], finding: Finding) -> Claim | None:
    d = ctx.faces[floor].surface.axis
    e = _way(ctx, floor)
    if e is None or floor not in free:
        return None
    across = cross(e, d)
    flanks, reliefs = _beyond_reliefs(ctx, floor, free, e, across)
    tilts = [dot(ctx.faces[f].surface.axis, d) for f in flanks]
    sides = {dot(ctx.faces[f].surface.axis, across) > 0 for f in flanks}
    if len(flanks) != 2 or len(sides) != 2 or not reliefs or abs(tilts[0] - tilts[1]) > 1e-4:
        return None
    faces = frozenset([floor, *flanks, *reliefs])
    if any(sign == "concave" and n not in faces for f in faces for n, _, sign in ctx.graph.links(f)):
        return None  # another wall stands in it: a many-sided pocket seen from beside
    (low, _), (_, high) = ctx.span([floor], d), ctx.span(flanks, d)
    mouth = sorted(dot(p, across) for f in flanks for p in _top(ctx, f, d, high))
    angle = 90 - degrees(asin(min(1.0, -tilts[0])))
    along = ctx.span(faces, e)
    return Claim(
        "undercut",
        faces,
        d,
        [
            f"2 walls lean {angle:.4g} degrees over a floor, with {len(reliefs)} relief face(s) in its corners",
            "a dovetail slot: clear the mouth first, then a dovetail_mill of that angle that enters at an open end",
        ],
        bottom=frozenset([floor]),
        walls=faces - {floor},
        bottom_condition="planar",
        profile="general",
        dimensions={
            "length": along[1] - along[0],
            "width": mouth[-1] - mouth[0],
            "depth": high - low,
            "flank_angle": angle,
        },
        findings=[finding.model_copy(update={"faces": sorted(faces)})],
    )


def _way(ctx: Context, floor: int) -> Vector | None:
    """Along the longest straight edge of a floor."""
    edges = [ctx.snapshot.edges[e] for e in ctx.snapshot.face_edges[floor]]
    lines = [e for e in edges if e.curve == "line"]
    return unit(max(lines, key=lambda e: round(e.length, 6)).tangent) if lines else None


def _beyond_reliefs(ctx: Context, floor: int, free: set[int], e: Vector, across: Vector) -> tuple[list[int], list[int]]:
    """(flanks, reliefs): leaning planes along e at the end of narrow faces along e that begin at the floor."""
    d = ctx.faces[floor].surface.axis
    low, high = ctx.extent(floor, across)
    flanks, reliefs, todo = [], [], [floor]
    while todo:
        f = todo.pop()
        for n, k, _ in ctx.graph.links(f):
            if n not in free or n == floor or n in flanks or n in reliefs or not _along(ctx, k, e):
                continue
            a, b = ctx.extent(n, across)
            s = ctx.faces[n].surface
            if f != floor and s.kind == "plane" and -LEAN[1] < dot(s.axis, d) < -LEAN[0]:
                flanks.append(n)
            elif b - a < NARROW * (high - low) and _prismatic(ctx, n, e):
                reliefs.append(n)
                todo.append(n)
    return sorted(flanks), sorted(reliefs)


def _along(ctx: Context, edge: int, e: Vector) -> bool:
    return abs(dot(ctx.snapshot.edges[edge].tangent, e)) > 1 - 1e-6


def _prismatic(ctx: Context, face: int, e: Vector) -> bool:
    s = ctx.faces[face].surface
    if s.kind == "plane":
        return abs(dot(s.axis, e)) < 1e-6
    return s.kind == "cylinder" and s.hollow and abs(dot(s.axis, e)) > 1 - 1e-6


def _top(ctx: Context, face: int, d: Vector, high: float) -> list[Vector]:
    points = [p for e in ctx.snapshot.face_edges[face] for p in ctx.snapshot.edges[e].points]
    return [p for p in points if dot(p, d) > high - 0.01]
