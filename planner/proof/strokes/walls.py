"""Walls cut from beside: stock sides, outside profiles, bosses."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from planner.proof.cutter import profile_of
from planner.proof.regions import Region, centres
from planner.proof.scene import LEVEL, Job
from planner.proof.sides import edge
from planner.proof.strokes.faces import block_edge, enclosed, free_strip, wall_lines, wall_pieces
from planner.proof.strokes.stroke import Stroke, milled
from planner.proof.sweeps import DISC

BAND = 5e-3
"""Mm: width of the strip that one pass along a wall is; wide enough that chords round a bend do not cut it."""
LEAD = 2.0
"""Mm that a cutter runs on past the end of a wall beside which nothing rises; common practice, no source."""


def outside(job: Job) -> Stroke:
    """Round the part along its outline, or along one stock side."""
    if job.view is not None and job.view.outline:
        return _profile(job)
    return _side(job)


def _profile(job: Job) -> Stroke:
    """What lies between the part's outline and the raw block is cleared; finishing follows the outline."""
    profile, passes = profile_of(job.operation.tool), job.operation.passes
    key = ("outline", job.feature and job.feature.id, job.setup.direction)
    part = job.scene.once(key, lambda: _outline(job))
    if part.is_empty:
        return Stroke.nothing("its upright faces do not close to an outline")
    if passes.allowance_side == 0.0 and job.operation.faces:
        where = edge(part.buffer(profile.radius, DISC))
    else:
        around = job.scene.rectangle(job.plane).difference(part)
        where = centres(Region(around, edge(part)), profile.radius, passes.allowance_side).difference(part)
    return milled(job, profile, where)


def _outline(job: Job) -> BaseGeometry:
    """The part within the feature's upright faces; where they end, its box closes it."""
    lines = wall_lines(job.scene, job.feature.faces if job.feature else [], job.plane)
    box = edge(job.scene.rectangle(job.plane, raw=False))
    for closing in ([lines], [lines, box]):
        found = shapely.polygonize([shapely.node(shapely.union_all(closing, grid_size=1e-4))])
        pieces = [shapely.Polygon(p.exterior) for p in shapely.get_parts(found)]
        if pieces:
            whole = shapely.union_all(pieces)
            return shapely.union_all(_holding_part(job, pieces)) if closing[-1] is box else whole
    return shapely.Polygon()


def _holding_part(job: Job, pieces: list[BaseGeometry]) -> list[BaseGeometry]:
    """Cells between upright faces and the part's box in which the part lies: some triangle square to the tool does."""
    facing = np.flatnonzero(np.abs(job.plane.levels(job.scene.normals)) > 0.5)
    middles = shapely.points(job.plane.flat(job.scene.corners[facing].mean(axis=1)))
    return [pieces[k] for k in np.unique(shapely.STRtree(pieces).query(middles, predicate="within")[1])]


def _side(job: Job) -> Stroke:
    """A wall that is a stock side runs over all that side's block; any other one over its own length."""
    profile, passes = profile_of(job.operation.tool), job.operation.passes
    pieces = wall_pieces(job.scene, job.feature.faces if job.feature else [], job.plane)
    if not len(pieces):
        return Stroke.nothing("no upright face tells where the wall stands")
    pieces = _whole_side(job, pieces)
    near = profile.radius + passes.allowance_side
    far = near + max((passes.radial_count - 1) * passes.radial_depth, BAND)
    return milled(job, profile, free_strip(pieces, near, far, profile.radius + LEAD, block_edge(job)))


def _whole_side(job: Job, pieces: np.ndarray) -> np.ndarray:
    """The part's whole box side where all pieces lie on it."""
    box: BaseGeometry = job.scene.rectangle(job.plane, raw=False)
    ring = np.array(box.exterior.coords)
    points = shapely.points(pieces.reshape(-1, 2))
    for a, b in zip(ring[:-1], ring[1:], strict=True):
        if shapely.distance(shapely.LineString([a, b]), points).max() < LEVEL:
            along = (pieces[0, 2:] - pieces[0, :2]) @ (b - a)
            return np.concatenate([a, b] if along > 0 else [b, a]).reshape(1, 4)
    return pieces


def boss(job: Job) -> Stroke:
    """Round a boss, in a ring as wide as the passes."""
    profile, passes = profile_of(job.operation.tool), job.operation.passes
    near = profile.radius + passes.allowance_side
    far = near + max((passes.radial_count - 1) * passes.radial_depth, BAND)
    body = enclosed(job.scene, job.feature.faces if job.feature else [], job.plane)
    if not body.is_empty:
        return milled(job, profile, body.buffer(far, DISC).difference(body.buffer(near - 1e-6, DISC)))
    pieces = wall_pieces(job.scene, job.feature.faces if job.feature else [], job.plane)
    if not len(pieces):
        return Stroke.nothing("no upright face tells where the boss stands")
    return milled(job, profile, free_strip(pieces, near, far))
