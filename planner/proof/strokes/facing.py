"""Facing: a whole raw side, or a planar face with nothing beside it."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from planner.proof.cutter import profile_of
from planner.proof.regions import Region, centres
from planner.proof.scene import LEVEL, Job
from planner.proof.strokes.faces import flat_image
from planner.proof.strokes.stroke import Stroke, milled
from planner.proof.sweeps import Slab

RUN_OUT = 1.0
"""Mm that facing is taken past the block's edges."""

SLANTED = 1.75
"""Run over the raw rim round a slanted face, over the allowance: a block's corner sticks out by the root of 3 times it."""


def face(job: Job) -> Stroke:
    """A stock side over all its block, as wide as the passes reach; any other planar face within its outline."""
    if _outermost(job):
        return _side(job)
    if job.view is not None and job.view.outline:
        area = shapely.union_all([shapely.Polygon(p.exterior) for p in shapely.get_parts(job.region.area)])
    else:
        area = flat_image(job.scene, job.own_faces, job.plane)
    if job.plane.axis is None:
        rim = float(max((job.scene.low - job.scene.raw_low).max(), (job.scene.raw_high - job.scene.high).max()))
        area = area.buffer(SLANTED * rim, join_style="mitre")
    if area.is_empty:
        return Stroke.nothing("the face has no outline along this direction")
    profile = profile_of(job.operation.tool)
    return milled(job, profile, centres(Region(area, shapely.LineString()), profile.radius))


def _outermost(job: Job) -> bool:
    """Whether the operation works on the part's highest level along a direction of the frame."""
    k = job.plane.axis
    if k is None:
        return False
    top = job.scene.high[k] if job.plane.sign > 0 else -job.scene.low[k]
    return abs(top - job.operation.levels.bottom) < LEVEL


def _side(job: Job) -> Stroke:
    """All of the block, but no wider across than the passes side by side."""
    passes, tool = job.operation.passes, job.operation.tool
    block: BaseGeometry = job.scene.rectangle(job.plane).buffer(RUN_OUT, join_style="mitre")
    width = tool.DC + (passes.radial_count - 1) * passes.radial_depth
    low = np.array(block.bounds).reshape(2, 2)
    size = low[1] - low[0]
    short = int(np.argmin(size))
    trim = max((size[short] - width) / 2.0, 0.0)
    low[0, short] += trim
    low[1, short] -= trim
    region = shapely.box(*low.reshape(4))
    inner = region.buffer(-min(tool.DC / 2.0, 0.49 * size.min()), join_style="mitre")
    return Stroke([Slab(job.plane, region, job.bottom, float("inf"))], inner, job.bottom)
