"""Outline of a convex body: the hull of what is left of it, and sides from its walls as half-planes in the part's box."""

from __future__ import annotations

from collections.abc import Iterable
from math import atan2, cos, degrees, hypot, inf, pi, sin, tau
from typing import NamedTuple

import numpy as np

from recognizer import convex
from recognizer.bodies import Reading
from recognizer.convex import Point, Ring
from recognizer.outline import Outline, Plane2, Run, append_side, box_ring, closed_ring, gap2, points2
from recognizer.rule import Context
from recognizer.tilts import tilt
from recognizer.vector import dot
from shared.units import Vector

FEW = 200
"""Pairs of corners and half-planes up to which plain numbers are quicker than arrays."""

DRAFTED = 0.44
"""Sine of the steepest draft, 26 degrees."""

STEEP = 0.5
"""A round face bounds a region where its normals lean by more than this share of the sine that they reach anywhere on it."""


def convex_outline(ctx: Context, reading: Reading) -> Outline:
    """Outline of a convex body seen along its reading's direction.

    Sides come from the half-planes, so that a wall's corner eaten by another cut does not count as an open side.
    """
    plane = Plane2(reading.d)
    ring = convex.hull(points2(ctx, reading.floors + reading.walls + reading.leans, plane))
    planes = _walls_first(ctx, half_planes(ctx, reading.walls + reading.leans, plane), reading)
    room = _part_ring(ctx, plane, ring)
    for h in planes:
        room = convex.cut(room, h.n, h.c)
    runs = _runs(ctx, room, planes, reading)
    for k in range(len(runs)):
        _ended_by_its_arc(ctx, runs, k, plane)
    for run in runs:
        if run.faces and ctx.faces[run.faces[0]].kind == "plane":
            run.points = [run.points[0], run.points[-1]]  # next to an arc it may lie on the last tangent for a bit
    return Outline(reading.d, ring if convex.area(ring) > 1e-9 else room, runs)


def _part_ring(ctx: Context, plane: Plane2, own: Ring) -> Ring:
    """Where the part ends, seen along d: its box, or the hull of its contoured outside and of the body's own points."""
    for claim in ctx.claims:
        if claim.kind == "outside_profile" and abs(dot(claim.direction, plane.d)) > 1 - 1e-6:
            if plane.d not in ctx.outside_points:
                ctx.outside_points[plane.d] = points2(ctx, claim.faces, plane)
            return convex.hull([*ctx.outside_points[plane.d], *own])
    return box_ring(ctx, plane)


def _walls_first(ctx: Context, planes: list[HalfPlane], reading: Reading) -> list[HalfPlane]:
    """Without the half-planes of floor bevels and radii under a wall: the wall is the side, though it lies farther out."""
    feet = {f for f in reading.blends & set(reading.leans) if not _stands(ctx, f, reading.d)}
    if not feet:
        return planes
    walls = np.array([h.n for h in planes if h.face not in feet]).reshape(-1, 2)
    nx, ny = np.array([h.n for h in planes]).T[:, :, None]
    under = (nx * walls[:, 0] + ny * walls[:, 1] > 0.98).any(axis=1).tolist()
    return [h for h, hidden in zip(planes, under, strict=True) if h.face not in feet or not hidden]


def _beside(ctx: Context, face: int, a: Point, b: Point, plane: Plane2) -> bool:
    """Whether a face lies beside the middle of a side: where two arcs meet smoothly both have a tangent there."""
    way, middle = (b[0] - a[0], b[1] - a[1]), ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    along = [(q[0] - middle[0]) * way[0] + (q[1] - middle[1]) * way[1] for q in points2(ctx, [face], plane)]
    return bool(along) and min(along) < 0 < max(along)


def _runs(ctx: Context, room: Ring, planes: list[HalfPlane], reading: Reading) -> list[Run]:
    plane = Plane2(reading.d)
    eps = 4 * ctx.tol.length_mm
    on = _on_planes(room, planes, eps)
    runs: list[Run] = []
    for k, a in enumerate(room):
        m = (k + 1) % len(room)
        if gap2(a, room[m]) < 1e-7:
            continue
        faces = sorted({planes[i].face for i in on[k] & on[m]})
        faces.sort(key=lambda f: (f in reading.blends, ctx.faces[f].kind != "plane", f))
        if len({ctx.graph.group[f] for f in faces}) > 1 and ctx.faces[faces[0]].kind != "plane":
            faces.sort(key=lambda f: (f in reading.blends, not _beside(ctx, f, a, room[m], plane), f))
        own = [f for f in faces if ctx.graph.group[f] == ctx.graph.group[faces[0]]]
        append_side(ctx, runs, (a, room[m]), own, reading)
    return closed_ring(ctx, runs)


def _on_planes(room: Ring, planes: list[HalfPlane], eps: float) -> list[set[int]]:
    """Of each corner the places of the half-planes on whose edge it lies."""
    if len(room) * len(planes) < FEW:
        lines = [(k, *h.n, h.c) for k, h in enumerate(planes)]
        return [{k for k, nx, ny, c in lines if abs(nx * x + ny * y - c) < eps} for x, y in room]
    nx, ny, c = np.array([(*h.n, h.c) for h in planes]).T
    x, y = np.array(room).T[:, :, None]
    return [set(np.flatnonzero(row).tolist()) for row in np.abs(nx * x + ny * y - c) < eps]


class HalfPlane(NamedTuple):
    """n . q >= c is the free side of a wall; several of them stand for an arc."""

    n: Point
    c: float
    face: int


def half_planes(ctx: Context, faces: Iterable[int], plane: Plane2) -> list[HalfPlane]:
    """Free sides of walls and leaning planes, seen along d; a leaning plane's is taken where it is lowest."""
    faces = sorted(faces)
    curved = [f for f in faces if ctx.faces[f].kind != "plane" and not _runs_on(ctx, f, plane.d)]
    arcs = _arc_half_planes(ctx, curved, plane)
    out: list[HalfPlane] = []
    for f in faces:
        s = ctx.faces[f].surface
        if s.kind == "plane":
            n = plane.at(s.axis)
            size = hypot(*n)
            if size < 1e-6:
                continue
            n = (n[0] / size, n[1] / size)
            way = plane.back(n, 0.0)
            points = (p for e in ctx.snapshot.face_edges[f] for p in ctx.snapshot.edges[e].points)
            out.append(HalfPlane(n, min(dot(p, way) for p in points), f))
        else:
            out += arcs.get(f, [])
    return out


def _runs_on(ctx: Context, face: int, d: Vector) -> bool:
    """A leaning radius that a leaning plane carries on upwards: the plane, not the radius, is the side."""
    if tilt(ctx, face, d)[1] < 0.01 or _stands(ctx, face, d):
        return False
    beside = [n for n, _, sign in ctx.graph.links(face) if sign == "smooth" and ctx.faces[n].kind == "plane"]
    return any(0.01 < tilt(ctx, n, d)[0] < 0.99 for n in beside)


def _stands(ctx: Context, face: int, d: Vector) -> bool:
    """A round wall that leans from d no more than drafted walls do: a corner's radius, not a floor's radius or bevel."""
    return ctx.faces[face].kind in ("cylinder", "cone") and tilt(ctx, face, d)[1] < DRAFTED


def _arc_half_planes(ctx: Context, faces: list[int], plane: Plane2) -> dict[int, list[HalfPlane]]:
    """Tangents of each arc, a direction for each of its facets' corners, where the face lies farthest out."""
    arrays = ctx.snapshot.facet_arrays
    arcs = [f for f in faces if len(arrays.get(f, ())) and ctx.faces[f].kind in ("cylinder", "cone", "sphere", "torus")]
    standing = [
        f for f in arcs if ctx.faces[f].kind == "cylinder" and abs(dot(ctx.faces[f].surface.axis, plane.d)) > 1 - 1e-9
    ]
    leaning = [f for f in arcs if f not in standing]
    out = {f: _upright_half_planes(ctx, f, plane) for f in standing}
    return out | (_leaning_half_planes(ctx, leaning, plane) if leaning else {})


def _leaning_half_planes(ctx: Context, faces: list[int], plane: Plane2) -> dict[int, list[HalfPlane]]:
    """The same of arcs that do not stand along the direction, of all in one pass.

    The corners at the upper end of one have other directions than those at its lower end, which lie within.
    """
    corners = [ctx.snapshot.corners(f) for f in faces]
    # Formula only: at a cone's tip a facet's own normal would be no tangent of the wall.
    normals = [ctx.snapshot.formula_normals(f) for f in faces]
    of = np.repeat(np.arange(len(faces)), [len(c) for c in corners])
    p, n, u, v = np.concatenate(corners).T, np.concatenate(normals).T, plane.u, plane.v
    nx, ny = (n[0] * w[0] + n[1] * w[1] + n[2] * w[2] for w in (u, v))
    qx, qy = (p[0] * w[0] + p[1] * w[1] + p[2] * w[2] for w in (u, v))
    size = np.hypot(nx, ny)
    most = np.nan_to_num(np.fmax.reduceat(size, np.searchsorted(of, np.arange(len(faces)))))
    steep = size > STEEP * most[of]  # nan is not
    of, qx, qy = of[steep], qx[steep], qy[steep]
    kx, ky = (np.round(w[steep] / size[steep], 6) + 0.0 for w in (nx, ny))
    out = {}
    for k, face in enumerate(faces):
        own = of == k
        ways = np.unique(kx[own] + 1j * ky[own])
        lowest = np.outer(ways.real, qx[own]) + np.outer(ways.imag, qy[own])
        levels = lowest.min(axis=1).tolist() if len(ways) else []
        out[face] = [HalfPlane((w.real, w.imag), c, face) for w, c in zip(ways.tolist(), levels, strict=True)]
    return out


def _upright_half_planes(ctx: Context, face: int, plane: Plane2) -> list[HalfPlane]:
    """The same of a cylinder that stands along the direction: its facets' corners lie on one arc."""
    s = ctx.faces[face].surface
    cx, cy = plane.at(s.origin)
    side = -1.0 if s.hollow else 1.0
    lowest: dict[Point, float] = {}
    p, u, v = ctx.snapshot.facet_arrays[face].reshape(-1, 3).T, plane.u, plane.v
    qx, qy = (p[0] * w[0] + p[1] * w[1] + p[2] * w[2] for w in (u, v))
    for x, y in set(zip(qx.tolist(), qy.tolist(), strict=True)):
        size = hypot(x - cx, y - cy) or 1.0
        n = (round(side * (x - cx) / size, 6) + 0.0, round(side * (y - cy) / size, 6) + 0.0)
        lowest[n] = min(n[0] * x + n[1] * y, lowest.get(n, inf))
    return [HalfPlane(n, c, face) for n, c in sorted(lowest.items())]


def _ended_by_its_arc(ctx: Context, runs: list[Run], k: int, plane: Plane2) -> None:
    """Ends an arc's run where its faces end: its last tangents meet the next wall early, or run on to the box."""
    run = runs[k]
    ends = _arc_ends(ctx, run, plane)
    if ends is None or len(run.points) < 2:
        return
    c, first, last = run.centre or (0.0, 0.0), run.points[0], run.points[-1]
    (ax, ay), (bx, by) = run.points[:2]
    way = 1 if (ax - c[0]) * (by - c[1]) > (ay - c[1]) * (bx - c[0]) else -1
    ends = ends[::way]  # type: ignore[assignment]
    angle = atan2(ends[1][1] - c[1], ends[1][0] - c[0]) - atan2(ends[0][1] - c[1], ends[0][0] - c[0])
    sweep, start = (way * angle) % tau, atan2(ends[0][1] - c[1], ends[0][0] - c[0])
    steps = max(2, round(degrees(sweep) / 10))
    angles = [start + way * sweep * i / steps for i in range(1, steps)]
    inner = [(c[0] + run.radius * cos(t), c[1] + run.radius * sin(t)) for t in angles]  # type: ignore[operator]
    run.points = [ends[0], *inner, ends[1]]
    near = 0.2 * (run.radius or 0.0)
    before, after = runs[k - 1], runs[(k + 1) % len(runs)]
    if before is not run and gap2(before.points[-1], first) < 1e-9 and gap2(first, ends[0]) < near:
        before.points[-1] = ends[0]
    if after is not run and gap2(after.points[0], last) < 1e-9 and gap2(last, ends[1]) < near:
        after.points[0] = ends[1]


def _arc_ends(ctx: Context, run: Run, plane: Plane2) -> tuple[Point, Point] | None:
    """Ends of an upright cylinder's faces, anticlockwise; None where they go all round, or of another run."""
    if run.centre is None or not run.radius:
        return None
    c = run.centre
    points = points2(ctx, run.faces, plane)
    around = sorted((atan2(q[1] - c[1], q[0] - c[0]), q) for q in points)
    turns = [(b[0] - a[0]) % tau for a, b in zip(around, around[1:] + around[:1], strict=True)]
    if not turns or max(turns) < 15 * pi / 180:
        return None
    k = turns.index(max(turns))
    return around[(k + 1) % len(around)][1], around[k][1]
