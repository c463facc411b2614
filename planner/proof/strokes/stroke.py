"""What one operation sweeps, and where its cutter's centre goes."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import shapely
from shapely.geometry.base import BaseGeometry

from planner.proof.cutter import Profile
from planner.proof.scene import Job
from planner.proof.sweeps import DISC, Slab, Stack, Sweep
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

    A profile's rounds and slopes become slabs of which each has the radius half way up. Behind the cutting part comes
    the neck: a relieved one takes nothing from a wall, so that deep walls need their levels.
    """
    if where.is_empty:
        return Stroke.nothing(NO_ROOM)
    tips = tips_of(job) if tip is None else [tip]
    regions, rises = _stairs(profile, where)
    if profile.neck >= profile.radii[-1]:
        body = Stack(job.plane, regions, [tips[0] + r for r in rises])
        return Stroke([body], where, tips[0])
    tops = [*rises[1:], max(profile.reach, rises[-1])]
    steps = [high - low for low, high in zip(tips[:-1], tips[1:], strict=True)]
    if profile.widening and all(step <= profile.reach - rises[-1] for step in steps):
        tops[-1] += tips[-1] - tips[0]  # one level's body reaches up to the next one's: only the lowest rounds are seen
        tips = tips[:1]
    rows = [(t, g, a, b) for t in tips for g, a, b in zip(regions, rises, tops, strict=True) if b > a]
    sweeps: list[Sweep] = [Slab(job.plane, g, t + a, t + b) for t, g, a, b in rows]
    behind = tips[0] + max(profile.reach, rises[-1])
    sweeps.append(Slab(job.plane, where.buffer(profile.neck, DISC), behind, math.inf))
    return Stroke(sweeps, where, tips[0])


def _stairs(profile: Profile, where: BaseGeometry) -> tuple[list[BaseGeometry], list[float]]:
    """Regions swept from the tip upwards, and the height above it where each begins; the last has the full radius."""
    regions: list[BaseGeometry] = []
    rises: list[float] = []
    heights, radii = profile.heights, profile.radii
    for low, high, first, last in zip(heights[:-1], heights[1:], radii[:-1], radii[1:], strict=True):
        steps = max(1, math.ceil(abs(last - first) / STAIR))
        for k in range(steps):
            radius = float(first + (last - first) * (k + 0.5) / steps)
            regions.append(where.buffer(radius, DISC) if radius > 1e-6 else where.buffer(1e-6))
            rises.append(float(low + (high - low) * k / steps))
    regions.append(where.buffer(float(radii[-1]), DISC))
    rises.append(float(heights[-1]))
    return regions, rises


def tips_of(job: Job) -> list[float]:
    """Levels of the cutter's tip, deepest first: the operation's levels, a step of its axial depth apart."""
    op, bottom = job.operation, job.bottom
    step = op.passes.axial_depth
    count = max(1, op.passes.axial_count)
    return [bottom + k * step for k in range(count) if k == 0 or bottom + k * step < op.levels.top]


STAIR = 0.03
"""Mm of radius from one slab of a round or slope to the next: it lies within half of this."""
