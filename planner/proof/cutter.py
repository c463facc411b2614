"""The shape of a cutter, from its ISO 13399 properties alone."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from planner.proof.rays import Array
from shared.plan import Tool

ROUND_STEPS = 48
"""Chords in a cutter's corner radius or ball."""


@dataclass(frozen=True)
class Profile:
    """Radius of the cutting part by height above the tip, (k,) each, from the tip upwards.

    reach: height of the cutting part. neck: radius behind it, equal to the largest where nothing else is known.
    """

    heights: Array
    radii: Array
    reach: float
    neck: float

    @property
    def radius(self) -> float:
        """Largest radius."""
        return float(self.radii.max())

    @property
    def widening(self) -> bool:
        """Whether the cutting part grows no thinner from the tip upwards: all but dovetails."""
        return bool((np.diff(self.radii) >= 0.0).all())


def profile_of(tool: Tool) -> Profile:
    """Profile of a cutter. A drill's tip is its point; a chamfer cutter's and a dovetail's is its small or large end."""
    radius = tool.DC / 2.0
    reach = tool.APMX or tool.LU or math.inf
    neck = (tool.DN or tool.DC) / 2.0
    if tool.kind in ("twist_drill", "center_drill"):
        radius = (tool.DCX or tool.DC) / 2.0
        height = radius / math.tan(math.radians((tool.SIG or (118.0 if tool.kind == "twist_drill" else 90.0)) / 2.0))
        return Profile(np.array([0.0, height]), np.array([0.0, radius]), math.inf, radius)
    if tool.kind == "countersink":
        large = (tool.DCX or tool.DC) / 2.0
        height = (large - radius) / math.tan(math.radians((tool.SIG or 90.0) / 2.0))
        return Profile(np.array([0.0, height]), np.array([radius, large]), max(height, 1e-6), large)
    if tool.kind == "corner_rounding_mill":  # hollow: upright at its tip, flat where it is widest
        turn = np.linspace(0.0, math.pi / 2.0, ROUND_STEPS + 1)
        return Profile(tool.RE * np.sin(turn), radius + tool.RE * (1.0 - np.cos(turn)), tool.RE, radius + tool.RE)
    if tool.kind == "dovetail_mill":
        height = tool.APMX or radius
        small = max(radius - height / math.tan(math.radians(tool.SIG or 60.0)), neck * 0.5)
        return Profile(np.array([0.0, height]), np.array([radius, small]), height, min(neck, small))
    if tool.kind == "t_slot_mill":
        return Profile(np.array([0.0, reach]), np.array([radius, radius]), reach, neck)
    edge = min(tool.RE, radius)
    if edge > 0.0:
        turn = np.linspace(0.0, math.pi / 2.0, ROUND_STEPS + 1)
        return Profile(edge * (1.0 - np.cos(turn)), radius - edge + edge * np.sin(turn), reach, neck)
    return Profile(np.array([0.0]), np.array([radius]), reach, neck)
