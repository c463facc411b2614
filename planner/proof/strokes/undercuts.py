"""Tee slots and dovetails that run straight through: the free middle, then what hangs over with a cutter of its own.

One side may be open, as beside a dovetail that stands: there nothing hangs over.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from planner.proof.cutter import profile_of
from planner.proof.scene import LEVEL, Job
from planner.proof.strokes.faces import flat_image
from planner.proof.strokes.stroke import Stroke, milled, tips_of
from planner.proof.strokes.walls import LEAD

WIDTH = 0.05
"""Mm that the floor's width may differ from what the feature's sizes say."""
HANGS = 0.05
"""Cosine between a face's normal and the direction below which it hangs over what lies under it."""
RELIEVED = 0.5
"""Least share of a dovetail's foot that is floor where its corners are relieved."""


def undercut(job: Job) -> Stroke:
    """Sweep in an undercut whose floor is one straight strip; the sizes are the feature's own."""
    size = job.feature.dimensions if job.feature else {}
    strip = _strip(job)
    neck, flank = size.get("width"), size.get("flank_angle")
    height = size.get("foot_height") or size.get("depth")
    if strip is None or neck is None or height is None or not ("foot_width" in size or flank):
        return Stroke.nothing("its sizes do not tell where an undercut cutter goes")
    start, along, across, length, floor = strip
    before, behind = _hung_over(job, start, across)
    flanks = before + behind
    wanted = size.get("foot_width") or neck + flanks * height / math.tan(math.radians(flank or 60.0))
    if flank and RELIEVED * wanted < floor < wanted:  # its corners are relieved: the floor ends where the reliefs begin
        start = start + (behind - before) * (wanted - floor) / flanks * 0.5 * across
        floor = wanted
    if abs(floor - wanted) > WIDTH:
        return Stroke.nothing("its floor is not as wide as its sizes say: it is no plain tee or dovetail slot")
    profile = profile_of(job.operation.tool)
    reach = profile.radius + LEAD
    ends = np.array([start - reach * along, start + (length + reach) * along])
    if job.operation.tool.kind in ("endmill", "bullnose_endmill"):
        half = max(neck / 2.0 - profile.radius - job.operation.passes.allowance_side, 0.0)
        mouth = ends + (before - behind) * (floor - neck) / flanks * 0.5 * across
        return milled(job, profile, _between(mouth, across, half if job.operation.passes.radial_count > 1 else 0.0))
    out = Stroke(tip=job.bottom)
    highest = job.operation.levels.top - min(profile.reach, job.operation.levels.top - job.bottom)
    for tip in [min(t, highest) for t in tips_of(job)]:
        lean = (tip - job.operation.levels.bottom) / math.tan(math.radians(flank)) if flank else 0.0
        off = floor / 2.0 - lean - profile.radius
        if flanks == 1:  # past an open side it may stand out as far as it likes
            lines = shapely.LineString(ends + (behind - before) * off * across)
        elif off > LEVEL:
            lines = shapely.MultiLineString([ends + off * across, ends - off * across])
        else:
            lines = shapely.LineString(ends)
        one = milled(job, profile, lines, tip)
        out.sweeps += one.sweeps
        out.centres = shapely.union_all([out.centres, one.centres]) if not out.centres.is_empty else one.centres
    return out


def _hung_over(job: Job, start: np.ndarray, across: np.ndarray) -> tuple[int, int]:
    """1 or 0: whether something hangs over the floor on the side against `across`, and on the one along it. Both where none does."""
    scene, feature = job.scene, job.feature
    chosen = scene.triangles(feature.faces if feature else [])
    chosen = chosen[job.plane.levels(scene.normals[chosen]) < -HANGS]
    at = (job.plane.flat(scene.corners[chosen].mean(axis=1)) - start) @ across
    before, behind = bool((at < 0.0).any()), bool((at > 0.0).any())
    return (1, 1) if before == behind else (int(before), int(behind))


def _between(ends: np.ndarray, across: np.ndarray, half: float) -> BaseGeometry:
    if half < 1e-6:
        return shapely.LineString(ends)
    return shapely.Polygon(np.vstack([ends + half * across, ends[::-1] - half * across]))


def _strip(job: Job) -> tuple[np.ndarray, np.ndarray, np.ndarray, float, float] | None:
    """The floor as a rectangle: a point in the middle of its short side, unit vectors along and across, length, width."""
    floor = flat_image(job.scene, job.feature.bottom if job.feature else [], job.plane)
    if floor.is_empty:
        return None
    box = shapely.minimum_rotated_rectangle(floor)
    if box.geom_type != "Polygon":
        return None
    a, b, c = (np.array(p) for p in list(box.exterior.coords)[:3])
    if np.hypot(*(b - a)) < np.hypot(*(c - b)):
        a, b, c = b, c, c + (a - b)
    length, width = float(np.hypot(*(b - a))), float(np.hypot(*(c - b)))
    size = job.feature.dimensions.get("length") if job.feature else None
    if size and abs(size - length) > WIDTH and abs(size - width) <= WIDTH:
        a, b, c = b, c, c + (a - b)
        length, width = width, length
    along, across = (b - a) / length, (c - b) / width
    return a + 0.5 * width * across, along, across, length, width
