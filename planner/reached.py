"""What a reach document says of views: none that no cutter reaches is planned from, and no gap is taken for wider than it is."""

from __future__ import annotations

from collections.abc import Iterator

from shared.features import HOLE_KINDS, POCKET_KINDS, Feature, FeaturesDocument, View
from shared.findings import Finding
from shared.plan import Operation, PlanDocument, Unplanned
from shared.proof import ReachProof
from shared.reach import FaceView, ReachDocument
from shared.units import Vector

PARALLEL = 1 - 1e-6
LEAST = 0.5
"""A view from which less than this share of a feature can be touched is none: the rest would be left standing.

The rules of recognition say which sides reach a feature; this only strikes out what the geometry refutes. What a round
cutter leaves in corners beside walls that it cuts does not count as left: such corners are planned with a finding.
"""
ENTERED = 0.1
"""A cutter that touches this share of a feature's walls is in it, with room to move (common practice, no source)."""
MILLING = ("facemill", "endmill", "bullnose_endmill", "ball_endmill")
"""Cutters that the reach document's shares of a face are about; others have the form of what they make."""


BEHIND = ("t_slot_mill", "dovetail_mill", "backside_counterbore", "lollipop_mill")
"""Cutters that cut behind what is seen: the recipes have measured them."""
NOT_FROM = " is not planned from every side that sees it: "
CORNERS = ("sharp_corner", "corner_left", "gap_left")
"""Findings that say what a round cutter leaves."""
REAL_GAP = 0.5
"""Mm: no gap, but walls that run into each other."""
FORMED = (*HOLE_KINDS, "chamfer", "edge_round")
"""Kinds that cutters of their own form make (drills, countersinks, corner rounding cutters): what no end mill touches of
them says nothing, so only what is not even seen is struck out."""


def without_unreached(features: FeaturesDocument, reach: ReachDocument) -> tuple[FeaturesDocument, list[Finding]]:
    """The features as the reach document leaves them, and a finding for each change.

    `reachable` is taken from views that it refutes; `narrowest_gap` gives way where walls stand closer than it says.
    """
    notes: list[Finding] = []
    made = [_feature(f, reach, notes) for f in features.features]
    return features.model_copy(update={"features": made}), notes


def _feature(feature: Feature, reach: ReachDocument, notes: list[Finding]) -> Feature:
    views, refuted = [], []
    for view in feature.views:
        share = share_from(feature, view.direction, reach)
        if view.reachable and share is not None and share < LEAST and feature.kind != "undercut":
            refuted.append((view, share))
            view = view.model_copy(update={"reachable": False})
        views.append(_narrowed(feature, view, reach))
    if refuted:
        notes.append(_note(feature, refuted, any(v.reachable for v in views)))
    return feature.model_copy(update={"views": views})


def _narrowed(feature: Feature, view: View, reach: ReachDocument) -> View:
    """The view with the gap that the reach document measured between its walls, where that one is narrower."""
    k = _index(view.direction, reach)
    if k is None or feature.kind not in POCKET_KINDS:
        return view
    found = [v for i in feature.walls if (v := _view(i, k, reach)) is not None]
    narrow = [v for v in found if any(b.reason == "gap_too_narrow" for b in v.blockers)]
    gaps = [v.fits for v in narrow if v.fits is not None and v.fits > REAL_GAP]
    gap = min(gaps, default=float("inf"))
    if gap + 0.02 >= (view.narrowest_gap or float("inf")) or gap == float("inf"):
        return view
    return view.model_copy(update={"narrowest_gap": gap})


def share_from(feature: Feature, direction: Vector, reach: ReachDocument) -> float | None:
    """Share of a feature's area that the shop's cutters cut from a direction (that is seen, where cutters have its own
    form); None where it was not looked along. Where too little of its floors is touched, or no wall lets a cutter in,
    the share that is touched of these.
    """
    k = _index(direction, reach)
    if k is None:
        return None
    total = sum(reach.faces[i].area for i in feature.faces)
    if total <= 0:
        return 1.0
    views = [(reach.faces[i].area, v) for i in feature.faces if (v := _view(i, k, reach)) is not None]
    if feature.kind in HOLE_KINDS:
        # Steps behind a narrower one are the recipes' own matter: cut from the other end, or by a back counterbore.
        total = sum(area for area, _ in views) or total
    if feature.kind in FORMED:
        return sum(area * v.seen for area, v in views) / total
    floors = [(area, v.touched) for area, v in views if v.lies == "floor"]
    if floors and (share := sum(a * t for a, t in floors) / sum(a for a, _ in floors)) < LEAST:
        return share
    touched = sum(area * v.touched for area, v in views) / total
    return touched if touched < ENTERED else touched + sum(area * _corners(v) for area, v in views) / total


def _corners(view: FaceView) -> float:
    """Share of a face that corners beside it keep from every cutter."""
    return 0.0 if view.lies == "floor" else sum(b.share for b in view.blockers if b.reason == "corner_too_tight")


def _index(direction: Vector, reach: ReachDocument) -> int | None:
    for k, d in enumerate(reach.directions):
        if sum(a * b for a, b in zip(d.vector, direction, strict=True)) > PARALLEL:
            return k
    return None


def _view(face: int, direction: int, reach: ReachDocument) -> FaceView | None:
    return next((v for v in reach.faces[face].views if v.direction == direction), None)


def _note(feature: Feature, refuted: list[tuple[View, float]], elsewhere: bool) -> Finding:
    """What was refuted of a feature; a warning only where no other side is left."""
    sides = " and ".join(f"from {_spelt(view.direction)}" for view, _ in refuted)
    shares = " and ".join(dict.fromkeys(f"{share:.0%}" for _, share in refuted))
    return Finding(
        code="side_not_reached",
        severity="note" if elsewhere else "warning",
        message=f"{feature.id}{NOT_FROM}{sides} cutters touch only {shares} of it by the reach analysis",
        features=[feature.id],
        faces=feature.faces,
    )


def _spelt(direction: Vector) -> str:
    """'+x' along an axis of the file, else the components."""
    for axis, value in zip("xyz", direction, strict=True):
        if abs(value) > PARALLEL:
            return f"{'+' if value > 0 else '-'}{axis}"
    return "(" + ", ".join(f"{round(c, 4) + 0.0:g}" for c in direction) + ")"


def unreached(plan: PlanDocument, reach: ReachDocument) -> Iterator[Finding]:
    """Operations that bring faces to size from a side, or with an end mill, that cannot touch any of them.

    A short wall that lies wholly in a corner is left by every round cutter: no fault where a finding says that corner, nor is
    a gap too narrow for all cutters where a finding says that gap.
    """
    told = {name for f in plan.findings if f.code in CORNERS for name in f.features}
    gaps = {name for f in plan.findings if f.code == "gap_left" for name in f.features}
    for setup in plan.setups:
        k = _index(setup.direction, reach)
        if k is None:
            continue
        for op in setup.operations:
            found = _faults(op, k, reach, bool(told.intersection(op.features)))
            yield from (f for f in found if f.code != "cutter_does_not_fit" or not gaps.intersection(op.features))


def _faults(op: Operation, k: int, reach: ReachDocument, told: bool) -> Iterator[Finding]:
    special = {i for u in reach.undercuts for i in u.faces if u.cutter}
    for i in op.faces if op.tool.kind not in BEHIND else ():
        if i in special:
            continue
        view = _view(i, k, reach)
        shared = view and (view.touched if op.tool.kind in MILLING else view.seen)
        if view is None or not shared:
            if view is None or not (told and _corners(view) > LEAST):
                yield _fault(
                    op, i, "not_reached_from_here", f"{op.id} cuts face {i}, which nothing touches from its side"
                )
        elif op.tool.kind == "endmill" and view.fits is not None and view.lies == "wall" and _gap(view, op.tool.DC):
            text = f"{op.id} finishes face {i} with {op.tool.DC:g} mm; {view.fits:.2f} mm is the widest that fits there"
            yield _fault(op, i, "cutter_does_not_fit", text)


def _gap(view: FaceView, diameter: float) -> bool:
    """Whether a cutter is wider than a gap: corners that stay uncut are the rest operations' business."""
    narrow = any(b.reason == "gap_too_narrow" for b in view.blockers)
    return narrow and view.fits is not None and view.fits > REAL_GAP and diameter > view.fits + 0.02


def _fault(op: Operation, face: int, code: str, text: str) -> Finding:
    return Finding(code=code, severity="error", message=text, faces=[face], features=op.features)


def reasons(unplanned: Unplanned, refuted: list[Finding]) -> str:
    """Why a feature is not planned, with what the reach document refuted of it."""
    said = [f.message.split(": ", 1)[1] for f in refuted if unplanned.feature in f.features]
    return "; ".join(dict.fromkeys([unplanned.reason, *said]))


def proof_of(reach: ReachDocument, before: FeaturesDocument, after: FeaturesDocument) -> ReachProof:
    """What the plan says of having been checked; the features as they were and as the reach document left them."""
    ways = [sum(v.reachable for f in features.features for v in f.views) for features in (before, after)]
    because = f"by the cutters of '{reach.tools}' along {len(reach.directions)} directions"
    return ReachProof(checked=True, left_out=ways[0] - ways[1], because=because)
