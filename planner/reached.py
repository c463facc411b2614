"""What a reach document says of views: none that no cutter reaches is planned from."""

from __future__ import annotations

from collections.abc import Iterator

from shared.features import Feature, FeaturesDocument, View
from shared.findings import Finding
from shared.plan import Operation, PlanDocument
from shared.reach import FaceView, ReachDocument
from shared.units import Vector

PARALLEL = 1 - 1e-6
LEAST = 0.5
"""A view from which less than this share of a feature can be touched is none: the rest would be left standing.

The rules of recognition say which sides reach a feature; this only strikes out what the geometry refutes. Corners that no
cutter of a shop gets into are a few per cent of a feature, and are planned with a finding.
"""
SHAPING = ("bottom_and_side", "side", "plane", "freeform")


def without_unreached(features: FeaturesDocument, reach: ReachDocument) -> FeaturesDocument:
    """The features with `reachable` taken from views that the reach document refutes, and a finding for each."""
    notes: list[Finding] = []
    made = [_feature(f, reach, notes) for f in features.features]
    return features.model_copy(update={"features": made, "findings": [*features.findings, *notes]})


def _feature(feature: Feature, reach: ReachDocument, notes: list[Finding]) -> Feature:
    views = []
    for view in feature.views:
        share = share_from(feature.faces, view.direction, reach)
        if view.reachable and share is not None and share < LEAST and feature.kind != "undercut":
            notes.append(_note(feature, view, share))
            view = view.model_copy(update={"reachable": False})
        views.append(view)
    return feature.model_copy(update={"views": views})


def share_from(faces: list[int], direction: Vector, reach: ReachDocument) -> float | None:
    """Share of faces' area that the shop's cutters touch from a direction; None where it was not looked along."""
    k = _index(direction, reach)
    if k is None:
        return None
    total = sum(reach.faces[i].area for i in faces)
    got = sum(reach.faces[i].area * v.touched for i in faces if (v := _view(i, k, reach)) is not None)
    return got / total if total > 0 else 1.0


def _index(direction: Vector, reach: ReachDocument) -> int | None:
    for k, d in enumerate(reach.directions):
        if sum(a * b for a, b in zip(d.vector, direction, strict=True)) > PARALLEL:
            return k
    return None


def _view(face: int, direction: int, reach: ReachDocument) -> FaceView | None:
    return next((v for v in reach.faces[face].views if v.direction == direction), None)


def _note(feature: Feature, view: View, share: float) -> Finding:
    return Finding(
        code="side_not_reached",
        severity="warning",
        message=f"{feature.id} is not planned from {tuple(round(c, 3) for c in view.direction)}: "
        f"only {share:.0%} of it is touched from there",
        features=[feature.id],
        faces=feature.faces,
    )


def unreached(plan: PlanDocument, reach: ReachDocument) -> Iterator[Finding]:
    """Operations that bring faces to size from a side, or with an end mill, that cannot touch any of them."""
    for setup in plan.setups:
        k = _index(setup.direction, reach)
        if k is None:
            continue
        for op in setup.operations:
            yield from _faults(op, k, reach)


def _faults(op: Operation, k: int, reach: ReachDocument) -> Iterator[Finding]:
    special = {i for u in reach.undercuts for i in u.faces if u.cutter}
    for i in op.faces:
        if i in special:
            continue
        view = _view(i, k, reach)
        if view is None or view.touched <= 0.0:
            yield _fault(op, i, "not_reached_from_here", f"{op.id} cuts face {i}, which nothing touches from its side")
        elif op.tool.kind == "endmill" and view.fits is not None and view.lies == "wall" and _gap(view, op.tool.DC):
            text = f"{op.id} finishes face {i} with {op.tool.DC:g} mm; {view.fits:.2f} mm is the widest that fits there"
            yield _fault(op, i, "cutter_does_not_fit", text)


def _gap(view: FaceView, diameter: float) -> bool:
    """Whether a cutter is wider than a gap: corners that stay uncut are the rest operations' business."""
    narrow = any(b.reason == "gap_too_narrow" for b in view.blockers)
    return narrow and view.fits is not None and diameter > view.fits + 0.02


def _fault(op: Operation, face: int, code: str, text: str) -> Finding:
    return Finding(code=code, severity="error", message=text, faces=[face], features=op.features)
