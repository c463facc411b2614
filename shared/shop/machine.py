"""The machine: axes, travels, spindle, rapids, cutter changes, places in the magazine."""

from __future__ import annotations

import math
from dataclasses import dataclass

from shared.errors import DataFileError
from shared.shop.files import only, read_sections

WHAT = "machine file"
AXES = ("name", "axes", "travel", "tilt", "max_feed", "rapid", "tool_change", "magazine", "source", "note")
SPINDLE = ("power", "max_rpm", "min_rpm", "curve", "efficiency")


@dataclass(frozen=True)
class Machine:
    """Limits of the machine. The default is a plain vertical machining centre: an assumption, stated in the plan.

    power: kW, the most the spindle gives. curve: (rev/min, kW) points of what it gives at each speed, empty for `power`
    at every speed. travel: mm of x, y, z, empty where unknown. tilt: degrees that a 5-axis table leans away from the
    spindle at most; 90 shows the workpiece from above and from all four sides. rapid, max_feed: mm/min. tool_change:
    minutes from chip to chip. magazine: places, 0 where unknown. efficiency: share of the power that reaches the cut.
    """

    name: str = "vertical machining centre (assumed)"
    axes: int = 3
    power: float = 11.0
    max_rpm: float = 12000.0
    min_rpm: float = 0.0
    max_feed: float = 8000.0
    rapid: float = 20000.0
    tool_change: float = 0.1
    travel: tuple[float, ...] = ()
    magazine: int = 0
    curve: tuple[tuple[float, float], ...] = ()
    efficiency: float = 0.8
    tilt: float = 90.0

    def power_at(self, rpm: float) -> float:
        """KW at a speed: between the curve's points in a straight line, from zero below the first."""
        if not self.curve:
            return self.power
        points = [(0.0, 0.0), *self.curve]
        for (n0, p0), (n1, p1) in zip(points, points[1:], strict=False):
            if rpm <= n1:
                return p0 + (p1 - p0) * (rpm - n0) / (n1 - n0) if n1 > n0 else p1
        return points[-1][1]

    def torque_at(self, rpm: float) -> float:
        """Nm at a speed: P = 2 pi n M."""
        return self.power_at(rpm) * 60_000.0 / (2.0 * math.pi * rpm) if rpm > 0 else 0.0


DEFAULT_MACHINE = Machine()


def load_machine(path: str | None) -> Machine:
    """The machine of a TOML or CSV file; the assumed one for None. Raises DataFileError naming file, line and field."""
    if path is None:
        return DEFAULT_MACHINE
    parts = only(read_sections(path, WHAT), ("", "spindle"), WHAT)
    top, spindle = parts[""], parts["spindle"]
    top.check_names(AXES)
    spindle.check_names(SPINDLE)
    default = DEFAULT_MACHINE
    curve = tuple(spindle.pairs("curve")) if spindle.has("curve") else ()
    if list(curve) != sorted(set(curve)) or any(n <= 0 for n, _ in curve):
        hint = "speeds must rise from point to point and lie above zero"
        raise DataFileError("curve is out of order", hint, spindle.where("curve"))
    most = max((kw for _, kw in curve), default=default.power)
    machine = Machine(
        name=top.text("name", "own machine"),
        axes=top.whole("axes", 3, low=3, high=5),
        power=spindle.number("power", most, low=0.01),
        max_rpm=spindle.number("max_rpm", curve[-1][0] if curve else default.max_rpm, low=1.0),
        min_rpm=spindle.number("min_rpm", 0.0),
        max_feed=top.number("max_feed", default.max_feed, low=1.0),
        rapid=top.number("rapid", default.rapid, low=1.0),
        tool_change=top.number("tool_change", default.tool_change, high=60.0),
        travel=tuple(top.numbers("travel", 3)) if top.has("travel") else (),
        magazine=top.whole("magazine", 0),
        curve=curve,
        efficiency=spindle.number("efficiency", default.efficiency, low=0.1, high=1.0),
        tilt=top.number("tilt", default.tilt, low=1.0, high=180.0),
    )
    if curve and most > machine.power * 1.001:
        text = f"the curve gives {most:g} kW, more than power = {machine.power:g}"
        raise DataFileError(text, "correct one of them", spindle.where("power"))
    if machine.min_rpm >= machine.max_rpm:
        raise DataFileError("min_rpm is not below max_rpm", "correct one of them", spindle.where("min_rpm"))
    return machine
