"""Cutting data: formulas for speed, feed, power and time.

Formulas as in every machining handbook (published worked examples of them are in tests/published/test_cutting.py).
Lengths mm, speeds m/min and rev/min, feeds mm/min, times minutes, power kW, forces N/mm2.
"""

from __future__ import annotations

import math

from shared.shop.machine import DEFAULT_MACHINE, Machine
from shared.shop.materials import CuttingData, Material, material, materials

__all__ = ["DEFAULT_MACHINE", "CuttingData", "Machine", "Material", "material", "materials"]

EFFICIENCY = DEFAULT_MACHINE.efficiency
"""Share of the motor's power that reaches the cut; common practice, no source."""


def spindle_speed(vc: float, diameter: float) -> float:
    """Rev/min: n = 1000 vc / (pi D)."""
    return 1000.0 * vc / (math.pi * diameter)


def cutting_speed(n: float, diameter: float) -> float:
    """M/min: vc = pi D n / 1000."""
    return math.pi * diameter * n / 1000.0


def mill_feed(n: float, teeth: float, fz: float) -> float:
    """Table feed of a milling cutter in mm/min: vf = n z fz."""
    return n * teeth * fz


def feed_per_tooth(vf: float, n: float, teeth: float) -> float:
    """Feed a tooth in mm: fz = vf / (n z)."""
    return vf / (n * teeth)


def drill_feed(n: float, f: float) -> float:
    """Feed of a drill or reamer in mm/min: vf = n f."""
    return n * f


def tap_feed(n: float, pitch: float) -> float:
    """Feed of a tap in mm/min: vf = n P, the thread leaves no choice."""
    return n * pitch


def removal_rate(ap: float, ae: float, vf: float) -> float:
    """Chip volume in cm3/min: Q = ap ae vf / 1000."""
    return ap * ae * vf / 1000.0


def drill_removal_rate(diameter: float, vf: float) -> float:
    """Chip volume of a drill in cm3/min: Q = pi D^2 / 4 vf / 1000."""
    return math.pi * diameter**2 / 4.0 * vf / 1000.0


def milling_power(ap: float, ae: float, vf: float, kc: float, efficiency: float = EFFICIENCY) -> float:
    """Power in kW: Pc = ap ae vf kc / (60e6 eta)."""
    return ap * ae * vf * kc / (60e6 * efficiency)


def drill_power(diameter: float, vf: float, kc: float, efficiency: float = EFFICIENCY) -> float:
    """Power in kW of a drill into solid: Q kc / (60e3 eta), Q in cm3/min."""
    return drill_removal_rate(diameter, vf) * kc / (60e3 * efficiency)


def torque_of(power: float, n: float) -> float:
    """Nm at the spindle: M = 60000 P / (2 pi n), P in kW."""
    return 60_000.0 * power / (2.0 * math.pi * n)


def point_length(diameter: float, point_angle: float) -> float:
    """Length of a drill's point in mm: D / (2 tan(SIG/2)); 0.300 D at 118 degrees, 0.5 D at 90 degrees."""
    return diameter / (2.0 * math.tan(math.radians(point_angle) / 2.0))


def face_approach(diameter: float, width: float) -> float:
    """Approach of a face mill on centre in mm: (D - sqrt(D^2 - w^2)) / 2; D/2 where the cut is wider than the mill."""
    if width >= diameter:
        return diameter / 2.0
    return (diameter - math.sqrt(diameter**2 - width**2)) / 2.0


def slab_approach(diameter: float, depth: float) -> float:
    """Approach of peripheral milling in mm: sqrt(d (D - d)), d the radial depth up to D/2."""
    depth = min(depth, diameter / 2.0)
    return math.sqrt(depth * (diameter - depth))


def cut_time(path: float, feed: float) -> float:
    """Minutes: path / feed."""
    return path / feed


def mean_chip(fz: float, ae: float, diameter: float) -> float:
    """Mean chip thickness in mm of peripheral milling: fz sqrt(ae/D), at most fz."""
    return fz * min(1.0, math.sqrt(max(ae, 1e-6) / diameter))


def scallop_step(ball_radius: float, height: float) -> float:
    """Step between ball passes in mm that leaves cusps of `height`: 2 sqrt(h (2R - h))."""
    return 2.0 * math.sqrt(height * (2.0 * ball_radius - height))
