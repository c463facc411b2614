"""What no other family claimed: sealed voids and free-form regions, each with its reason."""

from __future__ import annotations

from recognizer.bodies import candidate_directions, read
from recognizer.rule import Claim, Context
from recognizer.vector import dot
from shared.findings import Finding


def enclosed_voids(ctx: Context) -> list[Claim]:
    """One claim a shell of faces that is cut off from the outer shell: no tool can get in."""
    pieces = ctx.graph.pieces(range(len(ctx.faces)))
    if len(pieces) < 2:
        return []
    outer = max(pieces, key=lambda c: _spread(ctx, c))
    found = []
    for c in pieces:
        if c is outer:
            continue
        claim = Claim(
            "enclosed_void",
            frozenset(c),
            ctx.frame.axes[2],
            ["its faces are joined to no face of the outside: a sealed void that no tool can reach"],
        )
        claim.findings.append(
            Finding(
                code="enclosed_void",
                severity="error",
                message=f"{len(c)} faces bound a sealed void inside the part: it cannot be machined",
                hint="split the part, open the void, or make it by casting or printing",
                faces=c,
            )
        )
        found.append(claim)
    return found


def _spread(ctx: Context, faces: list[int]) -> float:
    return sum(h - low for low, h in (ctx.span(faces, a) for a in ctx.frame.axes))


def regions(ctx: Context) -> list[Claim]:
    """One claim for each connected group of free faces; for each of its surfaces where no direction sees the group."""
    rest = ctx.free()
    if not rest:
        return []
    found = []
    for c in (part for piece in ctx.graph.pieces(rest) for part in _seen_at_once(ctx, piece)):
        kinds = ", ".join(sorted({ctx.faces[f].kind for f in c}))
        d = max(ctx.frame.directions, key=lambda d: round(sum(_facing(ctx, f, d) for f in c), 6))
        found.append(
            Claim(
                "region",
                frozenset(c),
                d,
                [f"{len(c)} {kinds} face(s) that no prismatic rule explains"],
                walls=frozenset(c),
            )
        )
    return found


def _seen_at_once(ctx: Context, piece: list[int]) -> list[list[int]]:
    """A group of faces, cut apart by surface where every direction has some of it face away: pipes that cross."""
    if any(not read(ctx, piece, d).under for d in candidate_directions(ctx, piece)):
        return [piece]
    of_surface: dict[int, list[int]] = {}
    for f in piece:
        of_surface.setdefault(ctx.graph.group[f], []).append(f)
    return list(of_surface.values())


def _facing(ctx: Context, face: int, d: tuple[float, float, float]) -> float:
    f = ctx.faces[face]
    p = (
        ctx.snapshot.edges[ctx.snapshot.face_edges[face][0]].middle
        if ctx.snapshot.face_edges[face]
        else f.surface.origin
    )
    n = f.surface.normal_at(p) or f.surface.axis
    return dot(n, d) * f.area
