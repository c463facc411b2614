"""Parents: the features that a feature opens on, to be cut before it."""

from __future__ import annotations

from recognizer.rule import Context
from recognizer.vector import dot
from shared.features import HOLE_KINDS, POCKET_KINDS, Feature
from shared.units import Vector


def with_parents(ctx: Context, features: list[Feature]) -> list[Feature]:
    """Features with `inside` filled: the owners of the faces that their mouths lie in, and the edges that strips break.

    A mouth lies in a face where a convex edge joins a wall to a face that faces the view's direction.
    """
    owner = {i: f for f in features for i in f.faces}
    islands = {f.id: found for f in features if (found := _round_island(ctx, f, owner))}
    out = []
    for f in features:
        ids = sorted({p.id for p in _parents(ctx, f, owner, islands)})
        out.append(f.model_copy(update={"inside": ids}))
    return out


def _parents(ctx: Context, f: Feature, owner: dict[int, Feature], islands: dict[str, list[Feature]]) -> list[Feature]:
    if f.kind in ("chamfer", "edge_round"):
        return [p for i in f.faces for n, _, _ in ctx.graph.links(i) if (p := owner.get(n)) and p is not f and _cut(p)]
    if f.kind == "boss":  # its floor is cleared before its walls are finished
        return [
            p
            for i in f.faces
            for n, _, sign in ctx.graph.links(i)
            if sign != "convex" and (p := owner.get(n)) and p is not f
        ]
    if f.kind == "planar_face":
        return islands.get(f.id, [])
    if _groove(f):
        beside = (owner.get(n) for i in f.faces for n, _, _ in ctx.graph.links(i))
        return [p for p in beside if p and p.kind in HOLE_KINDS]
    if f.kind not in HOLE_KINDS + POCKET_KINDS or not f.views:
        return []
    d = f.views[0].direction
    found = []
    for i in f.walls:
        for n, e, sign in ctx.graph.links(i):
            p = owner.get(n)
            if sign != "convex" or p is None or p is f or not _cut(p) or _groove(p):
                continue
            s = ctx.faces[n].surface
            up = s.kind == "plane" and dot(s.axis, d) > 0.5
            above = up and min(dot(q, d) for q in ctx.snapshot.edges[e].points) > f.views[0].bottom + 0.01
            if above and p.id not in islands:
                found.append(p)
    return found


def _round_island(ctx: Context, p: Feature, owner: dict[int, Feature]) -> list[Feature]:
    """The pocket that a flat face stands in as the top of an island, if it is one: its edges fall off to the pocket's walls.

    It is cut after the pocket, which leaves room to come in from beside. What opens on it may break its edges too.
    """
    if p.kind != "planar_face" or not p.views:
        return []
    d, level = p.views[0].direction, p.views[0].bottom + 4 * ctx.tol.length_mm
    links = [(owner.get(n), sign) for i in p.faces for n, _, sign in ctx.graph.links(i) if n not in p.faces]
    beside = [q for q, sign in links if q is None or sign != "convex" or not _opens_on(q, d, level)]
    first = beside[0] if beside else None
    if first is None or first.kind not in POCKET_KINDS or any(q is not first for q in beside):
        return []
    return [first] if all(sign == "convex" for _, sign in links) else []


def _opens_on(q: Feature, d: Vector, level: float) -> bool:
    """Holes, strips, and pockets that do not rise above a level."""
    tops = [v.top for v in q.views if dot(v.direction, d) > 1 - 1e-6]
    return q.kind in HOLE_KINDS or not _cut(q) or (q.kind in POCKET_KINDS and max(tops, default=level + 1) <= level)


def _groove(f: Feature) -> bool:
    """A groove in a hole's wall, which comes after its hole."""
    return f.kind == "undercut" and ("neck_width" in f.dimensions or "bore_diameter" in f.dimensions)


def _cut(p: Feature) -> bool:
    """Features that are cut away, unlike the strips along their edges."""
    return p.kind not in ("chamfer", "edge_round", "enclosed_void")
