"""What one operation sweeps, and where its cutter's centre goes."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import shapely
from shapely.geometry.base import BaseGeometry

from planner.proof.cutter import Profile
from planner.proof.scene import Job
from planner.proof.sweeps import DISC, Slab, Sweep


@dataclass
class Stroke:
    """Swept bodies, the plane region of the cutter's centres, and the level of its tip at the deepest.

    reason: why nothing is swept, empty where something is.
    """

    sweeps: list[Sweep] = field(default_factory=list)
    centres: BaseGeometry = field(default_factory=shapely.Point)
    tip: float = 0.0
    reason: str = ""

    @staticmethod
    def nothing(reason: str) -> Stroke:
        """No sweep, and why."""
        return Stroke(reason=reason)


def milled(job: Job, profile: Profile, where: BaseGeometry, tip: float | None = None) -> Stroke:
    """A cutter moved over centres `where`, its tip at the operation's levels one after the other, or at `tip` alone.

    A profile's rounds and slopes become slabs of which each has the radius half way up. Behind the cutting part comes
    the neck: a relieved one takes nothing from a wall, so that deep walls need their levels.
    """
    if where.is_empty:
        return Stroke.nothing("the cutter does not fit anywhere in the region")
    plane, tips = job.plane, tips_of(job) if tip is None else [tip]
    heights, radii = profile.heights, profile.radii
    sweeps: list[Sweep] = []
    for low, high, first, last in zip(heights[:-1], heights[1:], radii[:-1], radii[1:], strict=True):
        steps = max(1, math.ceil(abs(last - first) / STAIR))
        for k in range(steps):
            radius = float(first + (last - first) * (k + 0.5) / steps)
            ends = (low + (high - low) * k / steps, low + (high - low) * (k + 1) / steps)
            region = where.buffer(radius, DISC) if radius > 1e-6 else where
            sweeps += [Slab(plane, region, t + float(ends[0]), t + float(ends[1])) for t in tips]
    full, end = float(radii[-1]), float(heights[-1])
    if profile.neck >= full:
        sweeps.append(Slab(plane, where.buffer(profile.neck, DISC), tips[0] + end, math.inf))
        return Stroke(sweeps, where, tips[0])
    if end < profile.reach:
        region = where.buffer(full, DISC)
        sweeps += [Slab(plane, region, t + end, t + profile.reach) for t in tips]
    sweeps.append(Slab(plane, where.buffer(profile.neck, DISC), tips[0] + max(end, profile.reach), math.inf))
    return Stroke(sweeps, where, tips[0])


def tips_of(job: Job) -> list[float]:
    """Levels of the cutter's tip, deepest first: the operation's levels, a step of its axial depth apart."""
    op, bottom = job.operation, job.bottom
    step = op.passes.axial_depth
    count = max(1, op.passes.axial_count)
    return [bottom + k * step for k in range(count) if k == 0 or bottom + k * step < op.levels.top]


STAIR = 0.06
"""Mm of radius from one slab of a round or slope to the next: it lies within half of this."""
