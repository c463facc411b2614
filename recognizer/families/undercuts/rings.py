"""Turned undercuts: grooves round the outside, round or vee grooves in a bore, and what is wider behind its mouth.

True cases: an O-ring's or retaining ring's groove on a spigot; a thread's relief beside its shoulder; the groove of a belt
or of balls; a dovetailed ring groove in a flat face; a socket of more than half a ball. Look-alikes: a ring groove in a
flat face that is no wider below (a closed_pocket); a step from one diameter to the next (one side only).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

import numpy as np

from recognizer.bodies import read
from recognizer.graph import connected
from recognizer.meridians import Meridian, meridian
from recognizer.rule import Claim, Context
from recognizer.snapshot import plane_axes
from recognizer.vector import canonical, dot, neg
from shared.findings import Finding
from shared.units import Vector

FULL_DEG = 300.0
"""So much of the turn at least is left where other cuts cross the groove."""
CURVED = ("cylinder", "cone", "torus", "sphere")
FLUSH_MM = 0.02


def ring_grooves(ctx: Context) -> list[Claim]:
    """One claim a groove: its wall and both sides; and the land beyond a groove that parts it from its shoulder, a boss."""
    found: list[Claim] = []
    for body in _bodies(ctx):
        line = meridian(ctx, body)
        if line is None or any(not read(ctx, body, d).under for d in (line.axis, neg(line.axis))):
            continue
        if not all(_all_round(ctx, f, line) for f in sorted(body) if ctx.faces[f].kind == "sphere"):
            continue  # the round end of a groove that a ball nose left
        claim = _in_face(ctx, body, line) or _outside(ctx, body, line) or _in_bore(ctx, body, line)
        if claim:
            found += [claim, *_lands(ctx, claim, line)]
    return found


def _bodies(ctx: Context) -> list[frozenset[int]]:
    """Faces joined in inner edges, most of a turn of some surface among them; pieces at one level of one surface are one."""
    free = [f for f in ctx.free() if f not in ctx.box_faces]
    turns: dict[int, float] = defaultdict(float)
    for f in free:
        turns[ctx.graph.group[f]] += _turn(ctx, f)
    parts = [
        c
        for c in ctx.graph.components(free)
        if any(turns[ctx.graph.group[f]] > FULL_DEG and _curved(ctx, f) for f in c)
    ]
    of_surface: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for i, c in enumerate(parts):
        for f in c:
            if _curved(ctx, f):
                of_surface[ctx.graph.group[f]].append((i, f))
    ties = sorted({tie for pieces in of_surface.values() if len(pieces) > 1 for tie in _one_ring(ctx, pieces)})
    whole = (frozenset(f for i in piece for f in parts[i]) for piece in connected(range(len(parts)), ties))
    return [b for b in whole if any(_curved(ctx, f) and _span(ctx, b, f) > FULL_DEG for f in b)]


def _curved(ctx: Context, face: int) -> bool:
    return ctx.faces[face].kind in CURVED


def _turn(ctx: Context, face: int) -> float:
    """Degrees that a face turns about its axis; spheres have no span of their own and count whole."""
    return 360.0 if ctx.faces[face].kind == "sphere" else ctx.faces[face].span


def _all_round(ctx: Context, sphere: int, line: Meridian) -> bool:
    """Whether a sphere's face goes round the axis, and not only over a side of it."""
    u, v = plane_axes(line.axis)
    rel = ctx.snapshot.corners(sphere) - np.array(line.origin)
    x, y = rel @ np.array(u), rel @ np.array(v)
    off = np.hypot(x, y) > FLUSH_MM
    angles = np.sort(np.degrees(np.arctan2(y[off], x[off])))
    return len(angles) > 2 and float(np.diff(angles, append=angles[0] + 360).max()) < 360 - FULL_DEG


def _span(ctx: Context, body: Iterable[int], face: int) -> float:
    return sum(_turn(ctx, f) for f in body if ctx.graph.group[f] == ctx.graph.group[face])


def _one_ring(ctx: Context, pieces: list[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """Pairs of parts of which two faces of one surface, given with their parts, lie at the same levels along its axis:
    pieces of one groove that other cuts have parted.
    """
    axis = ctx.faces[pieces[0][1]].surface.axis
    spans = sorted((*ctx.extent(f, axis), i) for i, f in pieces)
    for k, (low, high, i) in enumerate(spans):
        for least, most, j in spans[k + 1 :]:
            if least >= high:
                break
            if i != j and min(high, most) - least > 0.5 * min(high - low, most - least):
                yield max(i, j), min(i, j)


def _outside(ctx: Context, body: frozenset[int], line: Meridian) -> Claim | None:
    """A groove round the outside: between its rims the section dips towards the axis, with material inside."""
    points = line.points
    rim, least = min(points[0][1], points[-1][1]), min(r for _, r in points)
    deepest = min(range(len(line.faces)), key=lambda k: min(r for _, r in line.lines[k]) + 1e-6 * k)
    if not FLUSH_MM < least < rim - FLUSH_MM or _hollow(ctx, line, deepest):
        return None
    low, _, high, _ = line.inside(rim).bounds
    shared = _shoulders(ctx, line, rim, least)
    size = {"groove_diameter": 2 * least, "outer_diameter": 2 * rim, "height": high - low, "side": rim - least}
    what = f"a ring groove round the outside: {2 * least:.4g} mm between two sides {high - low:.4g} mm apart"
    return _claim(ctx, body, line, shared, size, what, "round the outside", "or a lathe")


def _in_bore(ctx: Context, body: frozenset[int], line: Meridian) -> Claim | None:
    """A round or vee groove in a bore: between its rims the section bulges away from the axis, with material outside."""
    points = line.points
    rim, most = max(points[0][1], points[-1][1]), max(r for _, r in points)
    widest = max(range(len(line.faces)), key=lambda k: max(r for _, r in line.lines[k]) - 1e-6 * k)
    if most < rim + FLUSH_MM or not _hollow(ctx, line, widest):
        return None
    if min(points[0][1], points[-1][1]) < FLUSH_MM:  # it ends in a pole or a floor: a socket behind its mouth
        low, _, high, _ = line.beyond(0.0).bounds
        size = {"mouth_diameter": 2 * rim, "groove_diameter": 2 * most, "height": high - low, "side": most - rim}
        what = f"a socket of {2 * most:.4g} mm behind a mouth of {2 * rim:.4g} mm"
        return _claim(ctx, body, line, frozenset(), size, what, "in a socket", "or a boring head")
    low, _, high, _ = line.beyond(rim).bounds
    size = {"bore_diameter": 2 * rim, "groove_diameter": 2 * most, "height": high - low, "side": most - rim}
    what = f"a ring groove in a bore: {2 * most:.4g} mm behind {2 * rim:.4g} mm"
    return _claim(ctx, body, line, frozenset(), size, what, "in a bore", "or a boring head")


def _in_face(ctx: Context, body: frozenset[int], line: Meridian) -> Claim | None:
    """A ring groove in a flat face that is wider below than at its mouth."""
    points = line.points
    (t0, r0), (t1, r1) = points[0], points[-1]
    if abs(t0 - t1) > FLUSH_MM or abs(r0 - r1) < FLUSH_MM:
        return None
    inner, outer = min(r for _, r in points), max(r for _, r in points)
    low, _, high, _ = line.between().bounds
    wide, mouth = outer - inner, abs(r1 - r0)
    if wide < mouth + FLUSH_MM:
        return None
    size = {"mouth_width": mouth, "floor_width": wide, "groove_depth": high - low, "groove_diameter": r0 + r1}
    what = f"a ring groove {mouth:.4g} mm wide at its mouth and {wide:.4g} mm below"
    return _claim(ctx, body, line, frozenset(), size, what, "in a face", "or a form tool on a lathe")


def _hollow(ctx: Context, line: Meridian, k: int) -> bool:
    """Whether material lies outside of a face of the section, where it is deepest."""
    s = ctx.faces[line.faces[k]].surface
    if s.kind == "torus":  # the tube's outer half, hollow, has material outside; its inner half inside
        mean = sum(r for _, r in line.lines[k]) / len(line.lines[k])
        return s.hollow == (mean > s.major_radius)
    return s.hollow


def _shoulders(ctx: Context, line: Meridian, rim: float, least: float) -> frozenset[int]:
    """A flat side of which more stands free beyond the groove's other rim than lies in the groove: a shoulder's face."""
    found = set()
    for k in (0, len(line.faces) - 1):
        far = max(r for _, r in line.lines[k])
        if ctx.faces[line.faces[k]].kind == "plane" and far**2 - rim**2 > rim**2 - least**2:
            found.add(line.faces[k])
    return frozenset(found)


def _way(ctx: Context, line: Meridian, shared: frozenset[int], mouth: bool) -> Vector:
    """The way along the axis from which the groove is cut: off its shoulder, out of its mouth, else the axis's own."""
    if shared:
        return ctx.faces[min(shared)].surface.axis
    if not mouth:
        return canonical(line.axis)
    levels = [t for t, _ in line.points]
    rim = max(line.points[0], line.points[-1], key=lambda p: p[1])[0]
    return line.axis if 2 * rim > min(levels) + max(levels) else neg(line.axis)


def _lands(ctx: Context, claim: Claim, line: Meridian) -> list[Claim]:
    """The round wall beyond a groove that lies between it and its shoulder: a boss that stands on the shoulder."""
    if not claim.shared:
        return []
    d = ctx.faces[min(claim.shared)].surface.axis
    free = set(ctx.free()) - claim.faces
    rims = {n for f in claim.faces for n, _, sign in ctx.graph.links(f) if sign == "convex" and n in free}
    lands = sorted(n for n in rims if ctx.faces[n].kind in ("cylinder", "cone") and _lone(ctx, n))
    if not lands or ctx.faces[lands[0]].kind == "cone" and len(lands) > 1:
        return []
    faces = frozenset(f for n in lands for f in ctx.graph.members[ctx.graph.group[n]] if f in free)
    low, high = dot(ctx.faces[min(claim.shared)].surface.origin, d), ctx.span(faces, d)[1]
    size = {"height": high - low}
    if ctx.faces[lands[0]].kind == "cylinder":
        size["diameter"] = 2 * ctx.faces[lands[0]].surface.radius
    why = "a round wall that stands on an open floor, behind the groove at its foot"
    return [Claim("boss", faces, d, [why], walls=faces, dimensions=size)]


def _lone(ctx: Context, face: int) -> bool:
    return not ctx.graph.hollow(face) and all(sign in ("convex", "same") for _, _, sign in ctx.graph.links(face))


def _claim(
    ctx: Context,
    body: frozenset[int],
    line: Meridian,
    shared: frozenset[int],
    size: dict[str, float],
    what: str,
    where: str,
    lathe: str,
) -> Claim:
    faces = body - shared
    curved = [f for f in faces if _curved(ctx, f) and ctx.faces[f].kind != "cylinder"]
    how = "a form cutter of its section" if curved else "a t_slot_mill"
    deep, height = size.get("side", size.get("groove_depth", 0.0)), size.get("height", size.get("mouth_width", 0.0))
    return Claim(
        "undercut",
        faces,
        _way(ctx, line, shared, "mouth_diameter" in size or "mouth_width" in size),
        [what, f"{how} that goes round it, or turning: no plain cutter sees all of it along the axis"],
        walls=faces,
        shared=shared,
        profile="general",
        dimensions=size,
        findings=[_finding(faces, height, deep, where, f"{how} {lathe}")],
    )


def _finding(faces: frozenset[int], height: float, deep: float, where: str, tool: str) -> Finding:
    return Finding(
        code="undercut",
        severity="warning",
        message=f"a ring groove {deep:.3g} mm deep and {height:.3g} mm wide {where} needs {tool}",
        hint="turn it, or check that the cutter can go all round and that nothing holds the part there",
        faces=sorted(faces),
    )
