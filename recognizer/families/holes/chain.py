"""Chains of coaxial bores: one hole each, from the mouth inwards."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import pi

from shapely import Point

from recognizer.families.holes.bores import FULL_DEG, Bore, axis_lines, bores
from recognizer.families.holes.tips import is_bevel, is_tip, points
from recognizer.graph import coaxial
from recognizer.outline import Plane2, face_polygon
from recognizer.rule import Context
from recognizer.vector import dot, neg
from shared.units import Vector

RELIEF_SHARE = 2.0
"""A floor this much larger than a bore's disc was not bored with it."""


@dataclass
class Chain:
    """Bores of one hole in order from the mouth; `out` points out of the mouth.

    floors: plane, sphere or cone faces that close it; shoulders: ring planes and radii between two bores.
    """

    ctx: Context
    out: Vector
    bores: list[Bore]
    floors: list[int] = field(default_factory=list)
    shoulders: list[int] = field(default_factory=list)
    gap: bool = False

    @property
    def faces(self) -> frozenset[int]:
        """All faces of the hole."""
        return frozenset(f for b in self.bores for f in b.faces) | set(self.floors) | set(self.shoulders)

    def level(self, bore: Bore) -> tuple[float, float]:
        """(bottom, top) of a bore along `out`."""
        return self.ctx.span(bore.faces, self.out)

    def end_radius(self, bore: Bore, top: bool) -> float:
        """Radius of a bore at its top or bottom along `out`."""
        low, high = self.level(bore)
        same = dot(self.out, bore.axis) > 0
        level = high if top else low
        return bore.radius_at(level if same else -level)


def chains(ctx: Context) -> list[Chain]:
    """Every hole of the part as a chain, in the order of its first face."""
    found = []
    for line in axis_lines(bores(ctx)):
        if not any(b.bored for b in line):
            continue
        axis = line[0].axis
        parts = [b for b in line if b.bored or _beside_bored(ctx, b, line)]
        parts.sort(key=lambda b: (round(sum(ctx.span(b.faces, axis)), 4), b.faces[0]))
        for run in _runs(ctx, parts, axis):
            chain = _closed(ctx, run, axis)
            if chain is not None:
                found.append(chain)
    return sorted(found, key=lambda c: min(c.faces))


def _beside_bored(ctx: Context, bore: Bore, line: list[Bore]) -> bool:
    """A partial bore counts where it is joined to a bored one of its axis: a counterbore cut by an edge.

    A face in which both only open joins nothing: an arc-shaped slot round a bore.
    """
    if bore.tangent:
        return False
    others = {f for b in line if b is not bore and b.bored for f in b.faces}
    return any(
        n in others or any(m in others and not sign == other == "convex" for m, _, other in ctx.graph.links(n))
        for f in bore.faces
        for n, _, sign in ctx.graph.links(f)
    )


def _runs(ctx: Context, parts: list[Bore], axis: Vector) -> list[list[Bore]]:
    """Bores along one axis cut into holes: joined where they touch, share a shoulder, or are equal across open space."""
    runs: list[list[Bore]] = []
    for b in parts:
        if runs and _joined(ctx, runs[-1], b, axis):
            runs[-1].append(b)
        else:
            runs.append([b])
    return runs


def _joined(ctx: Context, run: list[Bore], b: Bore, axis: Vector) -> bool:
    a = run[-1]
    between = set(neighbours(ctx, a.faces)) & set(neighbours(ctx, b.faces))
    if set(neighbours(ctx, a.faces)) & set(b.faces):
        return True
    top_a, low_b = ctx.span(a.faces, axis)[1], ctx.span(b.faces, axis)[0]
    if ctx.graph.group[a.faces[0]] == ctx.graph.group[b.faces[0]]:
        return not _shut(ctx, a, axis, top_a) and not _shut(ctx, b, axis, low_b)
    if _ring_faces(ctx, a, b, axis) and not (_closed_end(ctx, a, axis, top_a) or _closed_end(ctx, b, axis, low_b)):
        return True
    near = abs(low_b - top_a) < 0.25 * max(a.surface.radius, b.surface.radius)
    return near and any(_shoulder(ctx, f, axis) for f in between)


def _ring_faces(ctx: Context, a: Bore, b: Bore, axis: Vector) -> bool:
    """The wider of two coaxial bores ends at a ring that faces away from the narrower: a counterbore cut off from its bore."""
    wide, narrow = (a, b) if a.surface.radius > b.surface.radius else (b, a)
    if (
        a.surface.kind != "cylinder"
        or b.surface.kind != "cylinder"
        or wide.surface.radius < narrow.surface.radius * 1.02
    ):
        return False
    if ctx.span(b.faces, axis)[0] < ctx.span(a.faces, axis)[1] - 0.02:
        return False  # they overlap along the axis: a ring groove round a bore
    end = ctx.span(wide.faces, axis)[1 if wide is a else 0]
    return any(
        abs(dot(ctx.snapshot.edges[e].middle, axis) - end) < 0.02
        and (_radius(ctx, n) if sign == "smooth" else ctx.faces[n].kind == "plane" and sign == "concave")
        for f in wide.faces
        for n, e, sign in ctx.graph.links(f)
    )


def _radius(ctx: Context, face: int) -> bool:
    """A hollow radius between a bore and its floor or shoulder."""
    return ctx.faces[face].kind == "torus" and ctx.graph.hollow(face)


def _closed_end(ctx: Context, b: Bore, axis: Vector, level: float) -> bool:
    """Whether something that the axis meets closes a bore at a level."""
    for f in b.faces:
        for n, e, sign in ctx.graph.links(f):
            at_end = abs(dot(ctx.snapshot.edges[e].middle, axis) - level) < 4 * ctx.tol.length_mm
            if not at_end or n in b.faces or sign not in ("concave", "smooth"):
                continue
            if ctx.faces[n].kind == "torus":  # an inner radius closes it where its floor does, an outer one never
                if any(ctx.faces[m].kind == "plane" and _holds(ctx, m, axis, {f}) for m in neighbours(ctx, [n])):
                    return True
            elif ctx.faces[n].kind != "plane" or _holds(ctx, n, axis, {f}):
                return True
    return False


def _shut(ctx: Context, b: Bore, axis: Vector, level: float) -> bool:
    """Whether a floor or a tip closes a bore at a level: solid lies beyond, not open space."""
    for f in b.faces:
        for n, e, sign in ctx.graph.links(f):
            at_end = abs(dot(ctx.snapshot.edges[e].middle, axis) - level) < 4 * ctx.tol.length_mm
            if at_end and n not in b.faces and sign in ("concave", "smooth"):
                return True
    return False


def _shoulder(ctx: Context, face: int, axis: Vector) -> bool:
    s = ctx.faces[face].surface
    if s.kind == "plane":
        return abs(dot(s.axis, axis)) > 1 - 1e-6
    return s.kind in ("torus", "cone", "sphere", "bspline", "revolution")


def neighbours(ctx: Context, faces: list[int]) -> list[int]:
    """Faces linked to some of `faces`, without them."""
    own = set(faces)
    return [n for f in faces for n, _, _ in ctx.graph.links(f) if n not in own]


def _closed(ctx: Context, run: list[Bore], axis: Vector) -> Chain | None:
    """A run with its floors and shoulders, turned so that `out` leaves the mouth; None for a groove round an island."""
    own = {f for b in run for f in b.faces}
    ends: dict[int, list[int]] = {1: [], -1: []}
    shoulders: list[int] = []
    rim = [f for b in run for f in b.faces]
    while rim:  # from the bores on over radii and bevels to the floor behind them
        f = rim.pop(0)
        for n, _, sign in ctx.graph.links(f):
            if n in own or n in shoulders or n in ends[1] or n in ends[-1]:
                continue
            role = _end_face(ctx, n, sign, axis, own | set(shoulders))
            if ctx.faces[f].kind == "torus" and ctx.faces[n].kind == "cylinder" and not ctx.graph.hollow(n):
                role = "island"  # the radius at the foot of what stands on the floor
            if role == "island":
                return None
            if role == "shoulder":
                shoulders.append(n)
                if ctx.faces[n].kind == "torus":
                    rim.append(n)
            elif role in ("up", "down"):
                ends[1 if role == "up" else -1].append(n)
    tips = [b for b in run if is_tip(ctx, b, run)]
    bevels = [b for b in run if b not in tips and is_bevel(ctx, b, ends[1] + ends[-1])]
    down = ends[1] + [f for b in tips if points(b, axis) < 0 for f in b.faces]
    up = ends[-1] + [f for b in tips if points(b, axis) > 0 for f in b.faces]
    body = [b for b in run if b not in tips and b not in bevels]
    if not body or _relief(ctx, run, ends[1] + ends[-1]):
        return None
    return _oriented(ctx, axis, body, down, up, shoulders + [f for b in bevels for f in b.faces])


def _relief(ctx: Context, run: list[Bore], floors: list[int]) -> bool:
    """A round corner relief of a pocket: part of a bore, on a floor far wider than itself that the pocket's walls shut too;
    or the hole by which a cutter enters a dovetail slot, on a floor under walls that lean over it.
    """
    if len(run) > 1 or run[0].sector > FULL_DEG:
        return False
    disc = pi * run[0].surface.radius ** 2
    for floor in floors:
        walls = [n for n, _, sign in ctx.graph.links(floor) if sign == "concave" and n not in run[0].faces]
        if ctx.faces[floor].kind != "plane" or len(set(walls)) < 2:
            continue
        if ctx.faces[floor].area > RELIEF_SHARE * disc or any(_leans_over(ctx, n, floor) for n in walls):
            return True
    return False


def _leans_over(ctx: Context, wall: int, floor: int) -> bool:
    w, f = ctx.faces[wall].surface, ctx.faces[floor].surface
    return w.kind == "plane" and dot(w.axis, f.axis) < -0.1


def _end_face(ctx: Context, face: int, sign: str, axis: Vector, own: set[int]) -> str | None:
    """Role of a face beside a bore: 'up' or 'down' is the way a closing floor faces along the axis."""
    s = ctx.faces[face].surface
    if s.kind == "plane":
        if sign == "convex" or abs(dot(s.axis, axis)) < 1 - 1e-6:
            return None
        if _island(ctx, face, own):
            return "island"
        rims = {n for n, _, _ in ctx.graph.links(face) if n in own}
        if _two_sizes(ctx, rims) or (not _holds(ctx, face, axis, rims) and _bore_behind(ctx, face, own)):
            return "shoulder"
        return "up" if dot(s.axis, axis) > 0 else "down"
    if sign == "concave" and s.kind in ("cone", "cylinder") and not s.hollow:
        return "island" if coaxial(s, ctx.faces[min(own)].surface) else None
    if sign == "smooth" and s.kind in ("torus", "sphere") and s.hollow:
        if s.kind == "sphere":
            here = sum(ctx.extent(face, axis))
            around = sum(ctx.span(own, axis))
            return "up" if here < around else "down"
        return "shoulder"
    return None


def _island(ctx: Context, floor: int, own: set[int]) -> bool:
    """Whether material stands on a floor: on a round wall, or on a ring of walls or of radii at their feet.

    A round that runs smoothly off the plane falls away from it: the broken edge of a narrower bore behind.
    """
    links = {e: (n, sign) for n, e, sign in ctx.graph.links(floor) if n not in own}
    if any(
        sign == "concave" and ctx.faces[n].kind != "plane" and not ctx.graph.hollow(n) for n, sign in links.values()
    ):
        return True
    return any(all(e in links and _foot(ctx, *links[e]) for e, _ in loop) for loop in ctx.faces[floor].loops[1:])


def _foot(ctx: Context, face: int, sign: str) -> bool:
    return sign == "concave" or (sign == "smooth" and ctx.graph.hollow(face))


def _bore_behind(ctx: Context, face: int, own: set[int]) -> bool:
    """Whether a bore of the same hole goes on behind a plane."""
    s = ctx.faces[face].surface
    return any(ctx.faces[f].kind == "cylinder" and ctx.extent(f, s.axis)[1] < s.offset + 0.02 for f in own)


def _holds(ctx: Context, face: int, axis: Vector, rims: set[int]) -> bool:
    """Whether a plane across the axis closes it: the axis meets the face. A ring lets a narrower bore through."""
    plane = Plane2(axis)
    at = plane.at(ctx.faces[min(rims)].surface.origin) if rims else None
    return at is None or face_polygon(ctx, face, plane).buffer(ctx.tol.length_mm).contains(Point(at))


def _two_sizes(ctx: Context, rims: set[int]) -> bool:
    return len({ctx.graph.group[f] for f in rims}) > 1


def _oriented(
    ctx: Context, axis: Vector, body: list[Bore], down: list[int], up: list[int], shoulders: list[int]
) -> Chain:
    """Chain from the mouth: away from its floor; of a through hole from its wider end."""
    chain = Chain(ctx, axis, body, [], shoulders)
    first, last = body[0], body[-1]
    wide_low = chain.end_radius(first, False) > chain.end_radius(last, True) + ctx.tol.length_mm
    if (up and not down) or (not up and not down and wide_low):
        chain.out = neg(axis)
        chain.floors = up
    else:
        chain.floors = down if down else []
    if chain.out == axis:
        chain.bores = body[::-1]
    chain.gap = len({ctx.graph.group[b.faces[0]] for b in body}) == 1 and len(body[0].faces) > 1
    return chain
