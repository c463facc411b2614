"""What one operation sweeps, and where its cutter's centre goes."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from planner.proof.cutter import Profile
from planner.proof.grown import Grown
from planner.proof.rays import Array
from planner.proof.scene import Job
from planner.proof.sweeps import DISC, Slab, Sweep
from shared.proof import NO_ROOM


@dataclass
class Stroke:
    """Swept bodies, the plane region of the cutter's centres, and the level of its tip at the deepest.

    stations: regions of the centres with the tip's lowest level in each, where it is not all one. reason: why nothing is
    swept, empty where something is.
    """

    sweeps: list[Sweep] = field(default_factory=list)
    centres: BaseGeometry = field(default_factory=shapely.Point)
    tip: float = 0.0
    reason: str = ""
    stations: list[tuple[BaseGeometry, float]] = field(default_factory=list)

    @property
    def stands(self) -> list[tuple[BaseGeometry, float]]:
        """Where the cutter's centre is, and how low its tip is there."""
        return self.stations or [(self.centres, self.tip)]

    @staticmethod
    def nothing(reason: str) -> Stroke:
        """No sweep, and why."""
        return Stroke(reason=reason)


def milled(job: Job, profile: Profile, where: BaseGeometry, tip: float | None = None) -> Stroke:
    """A cutter moved over centres `where`, its tip at the operation's levels one after the other, or at `tip` alone.

    Behind the cutting part comes the neck: a relieved one takes nothing from a wall, so that deep walls need their levels.
    """
    if where.is_empty:
        return Stroke.nothing(NO_ROOM)
    tips = tips_of(job) if tip is None else [tip]
    heights, radii, reach = profile.heights, profile.radii, max(profile.reach, float(profile.heights[-1]))
    if profile.neck >= radii[-1] or math.isinf(reach):
        return Stroke([_body(job, where, tips[0] + heights, radii)], where, tips[0])
    steps = [high - low for low, high in zip(tips[:-1], tips[1:], strict=True)]
    full = reach
    if profile.widening and all(step <= reach - heights[-1] for step in steps):
        full += tips[-1] - tips[0]  # one level's body reaches up to the next one's: only the lowest rounds are seen
        tips = tips[:1]
    ends = (np.array([full, full]), np.array([radii[-1], profile.neck]))
    levels, radii = np.concatenate([heights, ends[0]]), np.concatenate([radii, ends[1]])
    return Stroke([_body(job, where, t + levels, radii) for t in tips], where, tips[0])


def _body(job: Job, where: BaseGeometry, levels: Array, radii: Array) -> Sweep:
    """Of an upright profile a slab, else all levels of it."""
    if len(radii) == 1:
        return Slab(job.plane, where.buffer(float(radii[0]), DISC), float(levels[0]), math.inf)
    return Grown(job.plane, where, levels, radii)


def tips_of(job: Job) -> list[float]:
    """Levels of the cutter's tip, deepest first: the operation's levels, a step of its axial depth apart."""
    op, bottom = job.operation, job.bottom
    step = op.passes.axial_depth
    count = max(1, op.passes.axial_count)
    return [bottom + k * step for k in range(count) if k == 0 or bottom + k * step < op.levels.top]
