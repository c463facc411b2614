"""Cutting data: formulas for speed, feed, power and time, and the material and machine they depend on.

Formulas as in every machining handbook (published worked examples of them are in tests/published/test_cutting.py).
Lengths mm, speeds m/min and rev/min, feeds mm/min, times minutes, power kW, forces N/mm2.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from shared.errors import UsageError

TABLES = Path(__file__).parent.parent / "shared" / "tables"
EFFICIENCY = 0.8
"""Share of the motor's power that reaches the cut; common practice, no source."""


@dataclass(frozen=True)
class Machine:
    """Limits of the machine. The default is a plain vertical machining centre: an assumption, stated in the plan."""

    name: str = "vertical machining centre (assumed)"
    power: float = 11.0
    max_rpm: float = 12000.0
    max_feed: float = 8000.0
    rapid: float = 20000.0
    tool_change: float = 0.1


DEFAULT_MACHINE = Machine()


@dataclass(frozen=True)
class CuttingData:
    """Starting values of one tool kind in one material: vc m/min, feed a tooth (a rev for drills) a mm of diameter."""

    vc: float
    feed_per_diameter: float
    feed_max: float
    source: str

    def feed(self, diameter: float) -> float:
        """Feed a tooth in mm (a revolution for drills and reamers): grows with the diameter up to `feed_max`."""
        return min(self.feed_max, self.feed_per_diameter * diameter)


@dataclass(frozen=True)
class Material:
    """A row of the materials table: kc = kc1 * h^-mc, and the cutting data by (tool kind, substrate)."""

    name: str
    text: str
    kc1: float
    mc: float
    ramp_deg: float
    source: str
    data: dict[tuple[str, str], CuttingData]

    def kc(self, chip: float) -> float:
        """Specific cutting force in N/mm2 at a mean chip thickness in mm: kc1 h^-mc (Kienzle)."""
        return self.kc1 * max(chip, 0.01) ** -self.mc

    def cutting_data(self, kind: str, substrate: str) -> CuttingData:
        """Starting values for a tool kind; its end mill's where the kind has no row, HSS where the substrate has none."""
        for key in (
            (kind, substrate),
            (kind, "HSS"),
            (kind, "carbide"),
            ("endmill", substrate),
            ("endmill", "carbide"),
        ):
            if key in self.data:
                return self.data[key]
        raise UsageError(
            f"material {self.name} has no cutting data for {kind}", "add an endmill row to the cutting data"
        )


@lru_cache(maxsize=1)
def materials() -> dict[str, Material]:
    """The default materials by name, from shared/tables/materials.csv and cutting_data.csv."""
    data: dict[str, dict[tuple[str, str], CuttingData]] = {}
    for row in _rows("cutting_data.csv"):
        values = CuttingData(float(row["vc"]), float(row["feed_per_diameter"]), float(row["feed_max"]), row["source"])
        data.setdefault(row["material"], {})[row["kind"], row["substrate"]] = values
    return {
        row["name"]: Material(
            row["name"], row["text"], float(row["kc1"]), float(row["mc"]), float(row["ramp_deg"]), row["source"],
            data[row["name"]],
        )
        for row in _rows("materials.csv")
    }  # fmt: skip


def material(name: str) -> Material:
    """The material called `name` (case and -/_/space do not matter). Raises UsageError that lists the known ones."""
    known = materials()
    key = name.strip().lower().replace("-", "_").replace(" ", "_")
    key = _ALIASES.get(key, key)
    if key not in known:
        raise UsageError(f"unknown material {name!r}", f"known materials: {', '.join(sorted(known))}", "--material")
    return known[key]


_ALIASES = {"aluminum": "aluminium", "stainless_steel": "stainless", "castiron": "cast_iron", "mild_steel": "steel"}


def _rows(name: str) -> list[dict[str, str]]:
    with (TABLES / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


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
