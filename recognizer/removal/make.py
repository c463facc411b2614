"""Feature -> removal body, kind by kind, in the order in which the features would be cut."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from shapely.errors import GEOSException

from recognizer.removal.body import Body
from recognizer.removal.frames import Shop
from recognizer.removal.holes import hole_body
from recognizer.removal.others import facing_body, undercut_body
from recognizer.removal.pockets import outside_body, planar_body, pocket_body
from recognizer.removal.solids import Prism, Solid
from recognizer.removal.strips import strip_body
from recognizer.vector import dot
from shared.features import HOLE_KINDS, POCKET_KINDS, Feature

Maker = Callable[[Shop, Feature], Body | None]
MAKERS: dict[str, Maker] = {
    "planar_face": planar_body,
    "outside_profile": outside_body,
    **dict.fromkeys(POCKET_KINDS, pocket_body),
    **dict.fromkeys(HOLE_KINDS, hole_body),
    "undercut": undercut_body,
    "boss": facing_body,
    "region": facing_body,
    "chamfer": strip_body,
    "edge_round": strip_body,
}
ORDER = {kind: k for k, kind in enumerate(MAKERS)}


def bodies_of(shop: Shop, features: list[Feature]) -> list[Body]:
    """Bodies with their features' ids as names, parents before what opens on them, then by kind."""
    made: dict[str, Body] = {}
    for f in _in_cutting_order(features):
        try:
            body = MAKERS[f.kind](shop, f) if f.kind in MAKERS else None
        except GEOSException:  # an outline that crosses itself: its volume stays unexplained, and that is said
            body = None
        if body is not None and body.adds:
            _cut_at_parents(f, body, made)
            if body.adds:
                made[f.id] = body
    return list(made.values())


def _in_cutting_order(features: list[Feature]) -> list[Feature]:
    by_id = {f.id: f for f in features}
    depth: dict[str, int] = {}
    strips = ("chamfer", "edge_round")

    def key(f: Feature) -> tuple[bool, int, int, float, int]:
        bore = f.dimensions.get(
            "diameter", 0.0
        )  # of two bores that cross, the larger: not whichever the file names first
        return f.kind in strips, _rank(f, by_id, depth), ORDER.get(f.kind, 99), -round(bore, 3), min(f.faces)

    return sorted(features, key=key)


def _rank(f: Feature, by_id: dict[str, Feature], depth: dict[str, int], seen: tuple[str, ...] = ()) -> int:
    """How many features lead to this one over parents, itself included; `depth` keeps what is known."""
    if f.id not in depth:
        above = (by_id[p] for p in f.inside if p in by_id and p not in seen and p != f.id)
        depth[f.id] = 1 + max((_rank(p, by_id, depth, (*seen, f.id)) for p in above), default=0)
    return depth[f.id]


def _cut_at_parents(f: Feature, body: Body, made: dict[str, Body]) -> None:
    """Ends prisms at the floor of a parent whose prism stands over all of them: what is above is the parent's already.

    Bodies that then only touch need no slicing.
    """
    parents = [made[p].adds[0] for p in f.inside if p in made and len(made[p].adds) == 1 and not made[p].fills]
    over = [p for p in parents if isinstance(p, Prism) and not p.halves]
    kept: list[Solid] = []
    for solid in body.adds:
        if isinstance(solid, Prism) and (solid.region.is_empty or solid.region.area < 1e-9):
            continue
        tops = [p.low for p in over if isinstance(solid, Prism) and not solid.halves and _covers(p, solid)]
        if isinstance(solid, Prism) and tops:
            solid = replace(solid, high=max(solid.low, min(tops)))
        if not isinstance(solid, Prism) or solid.high > solid.low + 1e-9:
            kept.append(solid)
    body.adds = kept


def _covers(parent: Prism, child: Prism) -> bool:
    """The parent stands over the child's whole upper end."""
    if dot(parent.d, child.d) < 1 - 1e-9 or not parent.low < child.high <= parent.high + 1e-6:
        return False
    return parent.region.buffer(1e-3).covers(child.region)
