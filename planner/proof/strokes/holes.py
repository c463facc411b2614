"""Holes: drills, spots, sinks, reamers and boring tools straight down; end mills in circles."""

from __future__ import annotations

import math

import numpy as np
import shapely

from planner.proof.cutter import profile_of
from planner.proof.scene import LEVEL, Job
from planner.proof.strokes.stroke import Stroke
from planner.proof.sweeps import Turned
from shared.features import HoleStep


def down(job: Job) -> Stroke:
    """A cutter down the hole's axis. A drill's `bottom` is the level of its full diameter, a spot's that of its tip."""
    centre = _centre(job)
    if centre is None:
        return Stroke.nothing("the hole has no axis")
    tool, op = job.operation.tool, job.operation
    profile = profile_of(tool)
    tip = job.bottom
    if tool.kind == "twist_drill":
        tip -= float(profile.heights[-1])
    elif op.kind == "counter_sinking":
        cone = _step(job, ("cone",))
        if cone is None:
            return Stroke.nothing("the hole has no cone of this level")
        start = 0.0 if tool.kind == "center_drill" else tool.DC
        tip = op.levels.top - (cone.diameter - start) / 2.0 / math.tan(math.radians((tool.SIG or 90.0) / 2.0))
    elif tool.kind in ("reamer", "boring_tool", "counterbore"):
        step = _step(job, ("cylinder",))
        radius = (step.diameter if step and tool.kind == "boring_tool" else tool.DC) / 2.0
        return _turned(job, centre, tip, np.array([0.0]), np.array([radius]))
    elif op.kind == "center_drilling" and job.feature and job.feature.id in job.scene.tapped:
        return _turned(job, centre, tip, profile.heights, np.minimum(profile.radii, _mouth(job) / 2.0))
    return _turned(job, centre, tip, profile.heights, profile.radii)


def _mouth(job: Job) -> float:
    """Diameter of a tapped hole's mouth. Its spot is as wide as the thread, which the model does not show: what it
    takes beyond the hole is the thread's own chamfer, wanted and no gouge."""
    assert job.feature
    return job.feature.steps[0].diameter if job.feature.steps else float("inf")


def milled(job: Job) -> Stroke:
    """An end mill in circles: its centres fill a disc, so the hole is the cutter's profile made wider by that radius."""
    centre = _centre(job)
    if centre is None:
        return Stroke.nothing("the hole has no axis")
    tool, op = job.operation.tool, job.operation
    if op.kind == "freeform_operation":
        cone = _step(job, ("cone",))
        if cone is None:
            return Stroke.nothing("the hole has no cone of this level")
        radii = np.array([cone.end_diameter, cone.diameter]) / 2.0
        return _turned(job, centre, op.levels.bottom, np.array([0.0, op.levels.top - op.levels.bottom]), radii)
    step = _step(job, ("cylinder",))
    if step is None:
        return Stroke.nothing("the hole has no cylinder of this level")
    profile = profile_of(tool)
    out = max(step.diameter / 2.0 - op.passes.allowance_side - profile.radius, 0.0)
    stroke = _turned(job, centre, job.bottom, profile.heights, profile.radii + out)
    stroke.centres = shapely.Point(centre).buffer(out) if out > 1e-9 else shapely.Point(centre)
    return stroke


def _turned(job: Job, centre: tuple[float, float], tip: float, heights: np.ndarray, radii: np.ndarray) -> Stroke:
    return Stroke([Turned(job.plane, centre, tip, heights, radii)], shapely.Point(centre), tip)


def _centre(job: Job) -> tuple[float, float] | None:
    axis = job.feature.axis if job.feature else None
    if axis is None:
        return None
    u, v = job.plane.flat(job.scene.frame @ np.array(axis.origin))
    return float(u), float(v)


def _step(job: Job, surfaces: tuple[str, ...]) -> HoleStep | None:
    """The hole's step that the operation makes: by its faces, else by its level; the widest, where several are meant."""
    feature, op = job.feature, job.operation
    if feature is None or feature.axis is None:
        return None
    steps = [s for s in feature.steps if s.surface in surfaces]
    way, level = float(np.dot(feature.axis.direction, job.setup.direction)), op.levels.bottom
    ends = {id(s): sorted((way * s.top, way * s.bottom)) for s in steps}
    mine = [s for s in steps if set(s.faces) & set(op.faces)]
    mine = mine or [s for s in steps if ends[id(s)][0] - LEVEL <= level <= ends[id(s)][1] + LEVEL]
    if not mine:
        return min(steps, key=lambda s: abs(ends[id(s)][0] - level), default=None)
    return max(mine, key=lambda s: s.diameter)
