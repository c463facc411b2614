"""Levels: every bottom is reached, none is passed, and nothing starts below the material."""

from __future__ import annotations

from collections.abc import Iterator

from planner.checks.index import LEVEL, Index, Placed, dot, fault
from shared.features import HOLE_KINDS, View
from shared.findings import Finding


def right_way_up(index: Index) -> Iterator[Finding]:
    """The top lies above the bottom."""
    for p in index.placed:
        if p.op.levels.top <= p.op.levels.bottom - 1e-6 or p.op.levels.break_through < 0:
            yield fault(
                "levels_upside_down", f"{p.op.id}: its top does not lie above its bottom", features=p.op.features
            )


def bottom_reached(index: Index) -> Iterator[Finding]:
    """The deepest operation on a feature reaches its bottom, or cuts from two opposite sides meet inside it."""
    cuts: dict[str, list[tuple[float, View]]] = {}
    for (name, _), (deepest, view, _) in _deepest(index).items():
        cuts.setdefault(name, []).append((deepest, view))
    for name, found in cuts.items():
        short = min(deepest - view.bottom for deepest, view in found)
        if short > LEVEL and not _meet(found) and not _told(index, name):
            yield fault("bottom_not_reached", f"{name}: cut down to {short:.3f} mm above its bottom", features=[name])


def _meet(cuts: list[tuple[float, View]]) -> bool:
    """Whether cuts along opposite directions overlap: levels along opposite directions are each other's negatives."""
    return any(
        dot(va.direction, vb.direction) < -1.0 + 1e-5 and a + b <= LEVEL and va.through and vb.through
        for a, va in cuts
        for b, vb in cuts
    )


def _deepest(index: Index) -> dict[tuple[str, int], tuple[float, View, str]]:
    """(feature, setup number) -> deepest level cut there, the view, the operation that comes last."""
    out: dict[tuple[str, int], tuple[float, View, str]] = {}
    for p, name, view in index.views():
        low, _, _ = out.get((name, p.setup_number), (float("inf"), view, ""))
        out[name, p.setup_number] = (min(low, p.deepest), view, p.op.id)
    return out


def gouge(index: Index) -> Iterator[Finding]:
    """No operation goes past the floor of a feature that is not through."""
    for p, name, view in index.views():
        far = _far_side(index, p, name, view)
        if not view.through and p.deepest < view.bottom - LEVEL:
            text = f"{p.op.id} goes down to {p.deepest:.3f}, past the bottom of {name} at {view.bottom:.3f}"
            yield fault("gouge", text, features=[name])
        if view.through and p.deepest < far - _past(p):
            text = f"{p.op.id} goes {far - p.deepest:.1f} mm past the far side of {name}"
            yield fault("break_through_too_far", text, features=[name])


def _past(p: Placed) -> float:
    """Mm that a cutter may go past a far side: round and pointed ones more than flat ones; common practice, no source."""
    tool = p.op.tool
    if tool.kind in ("endmill", "bullnose_endmill", "ball_endmill", "facemill"):
        return FAR_ENOUGH + tool.RE
    return max(FAR_ENOUGH, tool.DC)


FAR_ENOUGH = 5.0
"""Mm past a far side that a flat cutter never needs."""


def _far_side(index: Index, p: Placed, name: str, view: View) -> float:
    """Level where a through feature ends; a stock side milled as a wall ends where the part does."""
    direction = p.setup.direction
    low = index.box_level((-direction[0], -direction[1], -direction[2]))
    wall = index.features[name].kind == "planar_face" and view.kind == "outside_profile"
    return min(view.bottom, -low) if wall and low is not None else view.bottom


def floors(index: Index) -> Iterator[Finding]:
    """Who brings a flat floor to size is at its level: higher up it would leave a skin for nobody to take."""
    for p, name, view in index.views():
        feature = index.features[name]
        own = feature.kind not in HOLE_KINDS and feature.bottom and set(feature.bottom) <= set(p.op.faces)
        flat = p.op.kind in ("plane_finish_milling", "bottom_and_side_finish_milling") and not view.through
        level = index.flat_level(feature.bottom, p.setup.direction) if own and flat else None
        if level is not None and p.op.levels.bottom > level + LEVEL:
            text = f"{p.op.id} finishes the floor of {name} {p.op.levels.bottom - level:.3f} mm above it"
            yield fault("floor_not_reached", text, features=[name])


def whole_side(index: Index) -> Iterator[Finding]:
    """A stock side milled as a wall is milled down to the part's end: what stayed would stand proud of the face."""
    deepest: dict[str, tuple[float, Placed, View]] = {}
    for p, name, view in index.views():
        if index.features[name].kind == "planar_face" and view.kind == "outside_profile":
            low, _, _ = deepest.get(name, (float("inf"), p, view))
            deepest[name] = (min(low, p.deepest), p, view)
    for name, (low, p, view) in deepest.items():
        if low > _far_side(index, p, name, view) + LEVEL:
            text = f"{p.op.id} leaves raw stock standing proud on the side of {name}, below {low:.3f}"
            yield fault("rim_left", text, features=[name])


def breaks_through(index: Index) -> Iterator[Finding]:
    """A drill or end mill that makes a through hole or pocket goes past its far side, from one side at least."""
    past: dict[str, tuple[float, View, str]] = {}
    for (name, _), (deepest, view, op) in _deepest(index).items():
        if view.through and view.kind not in ("planar_face", "chamfer", "edge_round", "boss", "region"):
            far = past.get(name)
            if far is None or deepest - view.bottom < far[0]:
                past[name] = (deepest - view.bottom, view, op)
    for name, (over, view, op) in past.items():
        if abs(over) <= 1e-6 and not _told(index, name):
            text = f"{op}: {name} is through, but no cutter goes past {view.bottom:.3f}"
            yield fault("no_break_through", text, features=[name])


def starts_on_top(index: Index) -> Iterator[Finding]:
    """The first operation on a feature starts at the top of its material or above."""
    first: set[str] = set()
    for p, name, view in index.views():
        if name not in first and p.op.levels.top < view.top - LEVEL:
            text = f"{p.op.id} starts at {p.op.levels.top:.3f}, inside the material of {name} that begins at {view.top:.3f}"
            yield fault("starts_in_material", text, features=[name])
        first.add(name)


def from_the_top(index: Index) -> Iterator[Finding]:
    """A flat side milled as a wall from beside starts at the part's top: the raw rim stands all the way up."""
    for p, name, view in index.views():
        level = index.box_level(p.setup.direction)
        if index.features[name].kind != "planar_face" or view.kind != "outside_profile" or level is None:
            continue
        if p.op.levels.top < level - LEVEL:
            text = (
                f"{p.op.id} starts at {p.op.levels.top:.3f} beside {name}, under the raw rim that reaches {level:.3f}"
            )
            yield fault("starts_under_rim", text, features=[name])


def _told(index: Index, name: str) -> bool:
    """Whether the plan itself warns that something of the feature stays."""
    return any(name in f.features for f in index.plan.findings if f.code in ("partly_uncut", "hole_step_hidden"))


CHECKS = (right_way_up, bottom_reached, gouge, breaks_through, starts_on_top, from_the_top, whole_side, floors)
