"""What each operation sweeps, derived from the plan document and the features it names; one family of cuts a file."""

from __future__ import annotations

from planner.proof.scene import Job
from planner.proof.strokes import areas, breaks, edges, facing, holes, surfaces, undercuts, walls
from planner.proof.strokes.stroke import Stroke
from shared.features import HOLE_KINDS

__all__ = ["Stroke", "stroke_of"]

DOWN = ("drilling", "multistep_drilling", "center_drilling", "counter_sinking", "reaming", "boring")
"""Operations that go straight down a hole's axis."""


def stroke_of(job: Job) -> Stroke:
    """The sweep of one operation on one feature; `reason` says why, where the documents do not tell it."""
    op, feature, view = job.operation, job.feature, job.view
    if op.kind == "tapping":
        return Stroke.nothing(
            "threads are cosmetic in the model, which shows the drilled hole: the tap cuts nothing of it"
        )
    if op.edges and not op.features:
        return breaks.broken(job)
    if op.kind == "back_boring":
        return Stroke.nothing("a back counterbore is drawn up from the far side, through a hole narrower than it")
    if op.name == "face":
        return facing.face(job)
    if feature is None:
        return Stroke.nothing("no feature says where it cuts")
    if op.kind in DOWN:
        return holes.down(job)
    if feature.kind in HOLE_KINDS:
        return holes.milled(job)
    if view is None:
        return Stroke.nothing("the feature has no view along this direction")
    if op.kind == "freeform_operation":
        return surfaces.surface(job)
    if view.kind == "outside_profile":
        return walls.outside(job)
    if view.kind == "boss":
        return walls.boss(job)
    if view.profile == "vee" and op.tool.kind == "countersink":
        return edges.vee(job)
    along_faces = view.kind == "region" and not view.outline  # upright faces that no outline says
    if view.kind in ("chamfer", "edge_round") or along_faces:
        return edges.edge(job)
    if view.kind == "undercut":
        return undercuts.undercut(job)
    return areas.area(job)
