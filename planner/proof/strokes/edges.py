"""Chamfers and edge rounds: a cutter of their own angle along them, or an end mill where they stand upright."""

from __future__ import annotations

import numpy as np
import shapely

from planner.proof.cutter import profile_of
from planner.proof.scene import Job
from planner.proof.strokes.faces import block_edge, free_strip, lower_edges, wall_pieces, with_leads
from planner.proof.strokes.stroke import Stroke, milled
from planner.proof.strokes.walls import BAND, LEAD

SMALLEST_TOUCH = 1.0
"""Mm: smallest diameter of a chamfer cutter that is let cut, off its tip."""


def edge(job: Job) -> Stroke:
    """The sweep of a chamfer or an edge round."""
    if job.operation.tool.kind in ("countersink", "corner_rounding_mill"):
        return _sloped(job)
    if job.operation.kind == "freeform_operation":
        return Stroke.nothing("not followed")
    profile, passes = profile_of(job.operation.tool), job.operation.passes
    pieces = wall_pieces(job.scene, job.own_faces, job.plane)
    if not len(pieces):
        return Stroke.nothing("no upright face tells where the edge stands")
    near = profile.radius + passes.allowance_side
    far = near + max((passes.radial_count - 1) * passes.radial_depth, BAND)
    return milled(job, profile, free_strip(pieces, near, far, profile.radius + LEAD, block_edge(job)))


def vee(job: Job) -> Stroke:
    """A cone along the line in which a vee's flanks meet, its tip at the operation's levels."""
    assert job.view is not None and job.feature is not None
    pieces = lower_edges(job.scene, job.feature.faces, job.plane, job.view.bottom)
    if not len(pieces):
        return Stroke.nothing("no edge of the vee lies at its bottom")
    lines = with_leads(pieces, LEAD, block_edge(job)).reshape(-1, 2, 2)
    where = shapely.union_all(shapely.linestrings(lines)).buffer(BAND / 2.0)
    return milled(job, profile_of(job.operation.tool), where)


def _sloped(job: Job) -> Stroke:
    """The cutter's cone lies on the chamfer, its hollow on the round: at the lower edge it has the diameter that touches."""
    tool = job.operation.tool
    profile = profile_of(tool)
    pieces = lower_edges(job.scene, job.own_faces, job.plane, job.operation.levels.bottom)
    if not len(pieces):
        return Stroke.nothing("no edge of the chamfer lies at its lower level")
    touch = (tool.DC if tool.kind == "corner_rounding_mill" else max(SMALLEST_TOUCH, tool.DC)) / 2.0
    below = float(np.interp(touch, profile.radii, profile.heights))
    where = free_strip(pieces, touch, touch + BAND, LEAD, block_edge(job))
    return milled(job, profile, where, job.operation.levels.bottom - below)
