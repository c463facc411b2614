"""Bodies: faces that one cut left behind, and how they lie to a direction.

A concave edge always joins two faces of one cut, so the components over concave edges never mix cuts that keep clear of
each other. Another cut may split a body's faces into several components: pieces that share a surface and lie on the
free side of each other's planes are joined again. Strips along edges (chamfers, rounds) and bevels inside a cut do not speak against it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from recognizer.blends import blends_of
from recognizer.graph import connected
from recognizer.parted import parted
from recognizer.rule import Context
from recognizer.tilts import FLAT, tilt
from recognizer.vector import canonical, cross, dot, length, neg, scale, sub, unit
from shared.units import Vector

ROUND_END_DEG = (150.0, 210.0)
"""A hollow cylinder that turns by about a half circle ends a slot."""

RIB_TOP_COS = (0.05, 0.999)
"""A rib's top leans from the floor that the rib stands on: neither square to it nor along it."""


@dataclass(frozen=True)
class Reading:
    """A body's faces by their role along d: floors face d, walls stand along it, leans face it askew, under face away."""

    d: Vector
    floors: tuple[int, ...]
    walls: tuple[int, ...]
    leans: tuple[int, ...]
    under: tuple[int, ...]
    blends: frozenset[int] = frozenset()


def read(ctx: Context, faces: Iterable[int], d: Vector) -> Reading:
    """Roles of the faces along d."""
    faces = frozenset(faces)
    floors, walls, leans, under = [], [], [], []
    for f in sorted(faces):
        low, high = tilt(ctx, f, d)
        if low < -FLAT * 10:
            under.append(f)
        elif low > 1 - FLAT:
            floors.append(f)
        elif high < FLAT * 10:
            walls.append(f)
        else:
            leans.append(f)
    blends = frozenset() if under else blends_of(ctx, faces, d)
    return Reading(d, tuple(floors), tuple(walls), tuple(leans), tuple(under), blends)


def candidate_directions(ctx: Context, faces: Iterable[int]) -> list[Vector]:
    """Directions worth a look for a body: its plane normals, its axes, the lines along its walls, the frame's axes."""
    found: list[Vector] = []
    normals = []
    for f in sorted(faces):
        s = ctx.faces[f].surface
        if s.kind == "plane":
            normals.append(s.axis)
            _add(found, s.axis)
        elif s.kind in ("cylinder", "cone", "torus"):
            _add(found, s.axis)
            _add(found, neg(s.axis))
    base = normals[0] if normals else None
    for n in normals[1:]:
        if base and length(cross(base, n)) > 0.05:
            e = canonical(unit(cross(base, n)))
            _add(found, e)
            _add(found, neg(e))
            break
    else:
        for e in _across(ctx, faces, base):
            _add(found, e)
            _add(found, neg(e))
    for d in ctx.frame.directions:
        _add(found, d)
    return found


def _across(ctx: Context, faces: Iterable[int], normal: Vector | None) -> list[Vector]:
    """Ways across the axes of round walls, along walls that are all parallel: a notch with a round end."""
    axes = [ctx.faces[f].surface.axis for f in sorted(faces) if ctx.faces[f].kind == "cylinder"]
    return [canonical(unit(cross(a, normal))) for a in axes if normal and length(cross(a, normal)) > 0.05]


def _add(found: list[Vector], d: Vector) -> None:
    if all(dot(d, e) < 1 - 1e-7 for e in found):
        found.append(d)


def joined(ctx: Context, components: list[list[int]]) -> list[frozenset[int]]:
    """Components made whole: those that share a surface and lie on the free side of each other's planes are one body."""
    by_group: dict[int, list[int]] = defaultdict(list)
    for i, component in enumerate(components):
        for g in {ctx.graph.group[f] for f in component}:
            by_group[g].append(i)
    parent = list(range(len(components)))
    sets = [frozenset(c) for c in components]

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    for g in sorted(by_group):
        pieces = by_group[g]
        shut = {a for a in pieces if _shut_floor(ctx, sets[a], g)} if len(pieces) > 1 else set()
        for k, a in enumerate(pieces):
            for b in pieces[k + 1 :] if a not in shut else [b for b in pieces[k + 1 :] if b not in shut]:
                if root(a) != root(b) and one_body(ctx, sets[a], sets[b]) and not parted(ctx, sets[a], sets[b]):
                    parent[max(root(a), root(b))] = min(root(a), root(b))
    whole: dict[int, set[int]] = defaultdict(set)
    for i, component in enumerate(components):
        whole[root(i)].update(component)
    return [frozenset(whole[i]) for i in sorted(whole)]


def _shut_floor(ctx: Context, body: frozenset[int], group: int) -> bool:
    """What a body has of a plane is walled in all round by its own walls: it went on to no other body."""
    return all(
        ctx.faces[f].kind == "plane" and all(n in body and sign != "convex" for n, _, sign in ctx.graph.links(f))
        for f in body
        if ctx.graph.group[f] == group
    )


def bodies(ctx: Context) -> list[frozenset[int]]:
    """Bodies of the faces that no claim holds and that do not lie on the part's box."""
    rest = tuple(f for f in ctx.free() if f not in ctx.box_faces)
    if rest not in ctx.bodies:
        whole = joined(ctx, _over_reliefs(ctx, rest))
        ctx.bodies[rest] = [part for body in whole for part in _without_rib_tops(ctx, body)]
    return ctx.bodies[rest]


def _over_reliefs(ctx: Context, rest: tuple[int, ...]) -> list[list[int]]:
    """Components over inner edges, and over the drilled reliefs that stand in the place of some."""
    from recognizer.reliefs import relief_ties

    pieces = ctx.graph.components(rest)
    ties = relief_ties(ctx, rest)
    if not ties:
        return pieces
    of = {f: k for k, piece in enumerate(pieces) for f in piece}
    groups = connected(range(len(pieces)), ((of[a], of[b]) for a, b in ties))
    return [sorted(f for k in group for f in pieces[k]) for group in groups]


def _without_rib_tops(ctx: Context, body: frozenset[int]) -> list[frozenset[int]]:
    """A body, and each leaning top of a rib in it as a body of its own: material stands under it, on the body's floor."""
    tops = [f for f in sorted(body) if _rib_top(ctx, f, body)]
    return [body - set(tops), *(frozenset([f]) for f in tops)] if tops else [body]


def _rib_top(ctx: Context, face: int, body: frozenset[int]) -> bool:
    """A plane that leans from a floor, with a wall below its edge that stands on the same floor."""
    if ctx.faces[face].kind != "plane":
        return False
    axis = ctx.faces[face].surface.axis
    floors = {
        n
        for n, _, sign in ctx.graph.links(face)
        if sign == "concave" and n in body and ctx.faces[n].kind == "plane" and _leans(ctx, n, axis)
    }
    below = [n for n, _, sign in ctx.graph.links(face) if sign == "convex" and n in body]
    feet = ((w, n) for w in below for n, _, sign in ctx.graph.links(w) if sign == "concave" and n in floors)
    return any(abs(dot(ctx.faces[w].surface.axis, ctx.faces[n].surface.axis)) < 1e-6 for w, n in feet)


def _leans(ctx: Context, floor: int, axis: Vector) -> bool:
    return RIB_TOP_COS[0] < dot(ctx.faces[floor].surface.axis, axis) < RIB_TOP_COS[1]


def one_body(ctx: Context, a: frozenset[int], b: frozenset[int]) -> bool:
    """Whether every face of each lies on the free side of all the other's planes and inside its hollow cylinders."""
    return _free_side(ctx, a, b) and _free_side(ctx, b, a)


def _free_side(ctx: Context, walls: frozenset[int], faces: frozenset[int]) -> bool:
    slack = 4 * ctx.tol.length_mm
    for w in walls:
        s = ctx.faces[w].surface
        if s.kind == "cylinder" and not _inside_round_end(ctx, w, faces):
            return False
        if s.kind != "plane" or _lowest(ctx, faces, s.axis) >= s.offset - slack:
            continue
        # A strip on an edge widens the faces beside it: what it widened says nothing of the cut.
        if _lowest_core(ctx, faces, s.axis) < s.offset - slack and w not in _bevels(ctx, walls):
            return False
    return True


def _lowest(ctx: Context, faces: frozenset[int], d: Vector) -> float:
    """Lowest level of a body along d; kept, since each body is compared with many."""
    key = (faces, d)
    if key not in ctx.lowest:
        ctx.lowest[key] = ctx.span(faces, d)[0]
    return ctx.lowest[key]


def _lowest_core(ctx: Context, faces: frozenset[int], d: Vector) -> float:
    """The same without the corners that strips have made."""
    key = (faces, d)
    if key not in ctx.lowest_core:
        ctx.lowest_core[key] = min(ctx.core_low(f, d) for f in faces)
    return ctx.lowest_core[key]


def _inside_round_end(ctx: Context, wall: int, faces: Iterable[int]) -> bool:
    """Whether no face lies beyond a hollow half-round end: two slots that end towards each other are two."""
    f = ctx.faces[wall]
    if not f.surface.hollow or not ROUND_END_DEG[0] < f.span < ROUND_END_DEG[1]:
        return True
    s = f.surface
    rel = [sub(p, s.origin) for e in ctx.snapshot.face_edges[wall] for p in ctx.snapshot.edges[e].points]
    flat = [sub(r, scale(s.axis, dot(r, s.axis))) for r in rel]
    total = (sum(r[0] for r in flat), sum(r[1] for r in flat), sum(r[2] for r in flat))
    if length(total) < 1e-6:
        return True
    middle = unit(total)
    end = dot(s.origin, middle) + s.radius + 4 * ctx.tol.length_mm
    return all(ctx.extent(other, middle)[1] < end for other in faces)


def _bevels(ctx: Context, component: frozenset[int]) -> frozenset[int]:
    """Bevels of a component, seen along the first direction that reads it; kept, since many pairs ask for them."""
    store = ctx.__dict__.setdefault("_bevels", {})
    if component not in store:
        store[component] = _read_bevels(ctx, component)
    return store[component]


def _read_bevels(ctx: Context, component: frozenset[int]) -> frozenset[int]:
    for d in candidate_directions(ctx, component):
        reading = read(ctx, component, d)
        if not reading.under:
            return reading.blends
    return frozenset()


def is_convex(ctx: Context, faces: Iterable[int]) -> bool:
    """Whether the cut is one convex body: all its faces on the free side of all its planes, nothing curving outwards; kept."""
    faces = frozenset(faces)
    if faces not in ctx.convex:
        ctx.convex[faces] = _is_convex(ctx, faces)
    return ctx.convex[faces]


def _is_convex(ctx: Context, faces: frozenset[int]) -> bool:
    curved = [f for f in faces if ctx.faces[f].kind != "plane"]
    if any(not ctx.graph.hollow(f) or _saddle(ctx, f) for f in curved):
        return False
    if any(sign == "convex" and n in faces for f in curved for n, _, sign in ctx.graph.links(f)):
        return False  # two arcs meet in an edge that juts into the cut
    return _free_side(ctx, faces, faces)


def _saddle(ctx: Context, face: int) -> bool:
    """Whether a hollow torus reaches in over its tube's centre line: a round ring groove, or the radius at an island's foot."""
    s = ctx.faces[face].surface
    if s.kind != "torus":
        return False
    least = s.major_radius - 4 * ctx.tol.length_mm
    place, _ = ctx.snapshot.edge_points.places(np.array(ctx.snapshot.face_edges[face], dtype=int))
    rel = ctx.snapshot.edge_points.points[place] - s.origin
    return bool((np.linalg.norm(np.cross(rel, s.axis), axis=1) < least).any())
