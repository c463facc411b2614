"""Near misses of level, angle and diameter: what is almost equal, with the figure by which it is not.

A difference larger than what counts as equal and no larger than `near_miss_mm` (or NEAR_DEG) is said. Larger ones are
taken as meant: a floor a tenth deeper, a wall with half a degree of draft, a reamed hole beside a drilled one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import pairwise
from math import acos, asin, degrees

from recognizer.rule import Claim, Context
from recognizer.vector import canonical, dot
from shared.features import HOLE_KINDS, POCKET_KINDS
from shared.findings import Finding
from shared.units import Vector

NEAR_DEG = 0.45
"""Walls this little off square or parallel were hardly meant so: the smallest usual draft is half a degree."""
FLAT_KINDS = (*POCKET_KINDS, "planar_face")
FEW = 40
"""Planes of one feature that are compared with each other; a feature of more is no plain pocket."""


def near_levels(ctx: Context) -> Iterator[Finding]:
    """Floors that face one way at two levels that are almost one."""
    floors: dict[Vector, list[tuple[float, int]]] = defaultdict(list)
    for claim in ctx.claims:
        if claim.kind in FLAT_KINDS:
            for f in sorted(claim.bottom):
                s = ctx.faces[f].surface
                if s.kind == "plane":
                    floors[_key(s.axis)].append((s.offset, f))
    for normal in sorted(floors):
        for (a, low), (b, high) in pairwise(_steps(floors[normal], ctx.tol.length_mm)):
            if 2 * ctx.tol.length_mm < b - a <= ctx.tol.near_miss_mm + 1e-9:
                yield Finding(
                    code="near_miss_level",
                    severity="warning",
                    message=f"two floors that face one way are {b - a:.3g} mm apart: taken as two levels",
                    hint="if one level was meant, correct the model; else two cuts of their own depth are needed",
                    faces=sorted(low + high),
                )


def _steps(levels: list[tuple[float, int]], same: float) -> list[tuple[float, list[int]]]:
    """Levels in order with their faces; what lies within `same` of a level's first belongs to it."""
    out: list[tuple[float, list[int]]] = []
    for level, face in sorted(levels):
        if out and level - out[-1][0] <= 2 * same:
            out[-1][1].append(face)
        else:
            out.append((level, [face]))
    return out


def near_angles(ctx: Context) -> Iterator[Finding]:
    """Plane faces almost square to the part's axes, and planes of one feature almost square or parallel to each other."""
    off: dict[Vector, list[int]] = defaultdict(list)
    for f in ctx.faces:
        if f.kind == "plane" and max(abs(dot(f.surface.axis, a)) for a in ctx.frame.axes) > 1 - 5e-5:
            angle = _off_square(f.surface.axis, ctx.frame.axes[0])
            angle = max(angle, *(_off_square(f.surface.axis, a) for a in ctx.frame.axes[1:]))
            if ctx.tol.angle_deg < angle <= NEAR_DEG:
                off[_key(f.surface.axis)].append(f.index)
    for normal in sorted(off):
        angle = max(_off_square(normal, a) for a in ctx.frame.axes)
        yield _angle(angle, "square to the part's axes", off[normal])
    told = {f for faces in off.values() for f in faces}
    for claim in ctx.claims:
        if claim.kind in POCKET_KINDS:
            yield from _within(ctx, claim, told)


def _within(ctx: Context, claim: Claim, told: set[int]) -> Iterator[Finding]:
    planes = [f for f in sorted(claim.faces - claim.blends) if ctx.faces[f].kind == "plane" and f not in told]
    if len(planes) > FEW:
        return
    found = []
    for k, a in enumerate(planes):
        for b in planes[k + 1 :]:
            n, m = ctx.faces[a].surface.axis, ctx.faces[b].surface.axis
            angle = _off_square(n, m)
            if ctx.tol.angle_deg < angle <= NEAR_DEG and not _drafted(n, m, claim.direction, ctx.tol.angle_deg):
                found.append((abs(dot(n, m)) < 0.5, a, b, angle))
    if found:  # a wall off parallel is off square to its neighbours too: one note is enough
        square, a, b, angle = min(found)
        yield _angle(angle, "square to each other" if square else "parallel", [a, b])


def _drafted(n: Vector, m: Vector, d: Vector, slack: float) -> bool:
    """Two walls of one draft: square in plan, they cannot be square in space."""
    lean = abs(dot(n, d))
    return min(lean, 1 - lean) > 1e-4 and abs(dot(n, d) - dot(m, d)) < slack * 0.0175


def _off_square(a: Vector, b: Vector) -> float:
    """Degrees by which two normals miss being parallel or square, whichever is nearer."""
    c = min(1.0, abs(dot(a, b)))
    return min(degrees(acos(c)), degrees(asin(c)))


def _angle(angle: float, what: str, faces: list[int]) -> Finding:
    return Finding(
        code="near_miss_angle",
        severity="warning",
        message=f"{len(faces)} plane face(s) would be {what}, but are {angle:.2g} degrees off",
        hint="if no slope was meant, correct the model; a wall that leans needs a tilted or tapered cut",
        faces=sorted(faces),
    )


def near_diameters(ctx: Context) -> Iterator[Finding]:
    """Holes of one kind and direction of which a few are almost, but not quite, as wide as their siblings."""
    families: dict[tuple[str, Vector], list[Claim]] = defaultdict(list)
    for claim in ctx.claims:
        if claim.kind in HOLE_KINDS and "diameter" in claim.dimensions:
            families[claim.kind, canonical(_key(claim.direction))].append(claim)
    for key in sorted(families):
        sizes = _steps(
            [(c.dimensions["diameter"], i) for i, c in enumerate(families[key])], min(0.001, ctx.tol.length_mm / 2)
        )
        for (a, small), (b, large) in pairwise(sizes):
            few, many = sorted(((len(small), a, small), (len(large), b, large)))
            if ctx.tol.length_mm < b - a < ctx.tol.near_miss_mm and many[0] > 1:
                yield _diameter(key[0], few, many, (families[key][i] for i in few[2]))


def _diameter(kind: str, few: tuple, many: tuple, claims: Iterable[Claim]) -> Finding:
    return Finding(
        code="near_miss_diameter",
        severity="warning",
        message=(
            f"{few[0]} {kind} of {few[1]:.5g} mm beside {many[0]} of {many[1]:.5g} mm: "
            f"would be one size, but the diameters differ by {abs(few[1] - many[1]):.3g} mm"
        ),
        hint="if one size was meant, correct the model; else they need cutters of their own",
        faces=sorted(f for c in claims for f in c.faces),
    )


def _key(d: Vector) -> Vector:
    return (round(d[0], 5) + 0.0, round(d[1], 5) + 0.0, round(d[2], 5) + 0.0)
