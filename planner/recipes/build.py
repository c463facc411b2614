"""Turns a decided cut into an Operation: speed, feed, power, minutes, and the reasons in a fixed order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from planner.cutting import (
    cutting_speed,
    drill_power,
    mean_chip,
    mill_feed,
    milling_power,
    point_length,
    spindle_speed,
    tap_feed,
    torque_of,
)
from planner.paths import peck_rapids
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.practice import CLEARANCE
from shared.cutters import LENGTH_DIAMETER_WARN
from shared.findings import Finding
from shared.plan import Levels, Operation, Passes, Tool

APPROACH = 2.0
"""Mm at feed before the cutter touches; common practice, no source."""
LEAST_FEED = 0.5
"""Share of the feed a tooth below which a cutter rubs more than it cuts: then the step gives way; common practice."""


@dataclass
class Cut:
    """One decided cut, before its data: who it serves, cutter, levels, passes, how it enters, how far it travels, why."""

    features: list[str]
    name: str
    kind: str
    tool: Tool
    levels: Levels
    passes: Passes
    strategy: str
    entry: str
    path: float
    because: list[str]
    faces: list[int] = field(default_factory=list)
    edges: list[int] = field(default_factory=list)
    after: list[str] | None = None
    reach: float = 0.0
    cut_diameter: float | None = None
    retracts: int = 0
    slow: float = 1.0
    feed_diameter: float | None = None
    whole_block: bool = False


def one_stroke(
    feature: str,
    name: str,
    kind: str,
    tool: Tool,
    levels: Levels,
    wide: float,
    faces: Sequence[int],
    because: list[str],
) -> Cut:
    """A form sunk in one stroke of its own height, `wide` mm beyond the hole it starts from, straight down."""
    height = levels.top - levels.bottom
    passes = Passes(axial_depth=height, axial_count=1, radial_depth=wide, radial_count=1)
    way = height + APPROACH
    return Cut([feature], name, kind, tool, levels, passes, "drilling", "plunge_toolaxis", way, because, list(faces))


def mill(recipe: Recipe, job: RecipeJob, cut: Cut) -> Operation:
    """Adds a milling operation to the recipe; feed and step give way where the cutter is long or the power too small."""
    tool = cut.tool
    data = job.material.cutting_data(tool.kind, tool.substrate)
    diameter = cut.cut_diameter or tool.DC
    n, limited = _speed(job, tool, data.vc, diameter)
    fz = data.feed(cut.feed_diameter or diameter) * cut.slow
    because = list(cut.because)
    slenderness = cut.reach / tool.DC
    if tool.kind in ("endmill", "bullnose_endmill", "ball_endmill") and slenderness > 3.0:
        share = 0.5 if slenderness > LENGTH_DIAMETER_WARN else 0.7
        fz *= share
        because.append(f"feed at {share:.0%}: the cutter reaches {slenderness:.1f} times its diameter (more than 3)")
    feed = min(mill_feed(n, tool.NOF or 2, fz), job.machine.max_feed)
    ae = min(cut.passes.radial_depth, diameter)
    kc = job.material.kc(mean_chip(fz, ae, diameter))
    feed, power = _within_power(job, cut, n, feed, ae * feed * kc, because)
    minutes = cut.path / feed + _rapids(cut, job, max(cut.passes.axial_count, 1))
    because.append(_data_reason(job, tool, cutting_speed(n, diameter), fz, data.source, limited))
    return _append(recipe, cut, n, feed, cutting_speed(n, diameter), power, minutes, because)


def _within_power(
    job: RecipeJob, cut: Cut, n: float, feed: float, force: float, because: list[str]
) -> tuple[float, float]:
    """Feed and power in kW that the spindle can give at `n`; `force` is ae vf kc, so that power is ap times it.

    Up to LEAST_FEED the feed gives way; beyond it the levels become thinner first, since a cutter that no longer bites
    rubs. The cut's passes and path follow.
    """
    machine, passes = job.machine, cut.passes
    power = milling_power(passes.axial_depth, 1.0, force, 1.0, machine.efficiency)
    given = machine.power_at(n)
    if power <= given:
        return feed, power
    share = given / power
    torque = (
        f"{power:.1f} kW ({torque_of(power, n):.1f} Nm) of the machine's {given:.3g} kW ({machine.torque_at(n):.1f} Nm)"
    )
    at = f" at {n:.0f} rev/min" if machine.curve else ""
    if share < LEAST_FEED:
        times = math.ceil(LEAST_FEED / share - 1e-9)
        cut.passes = passes.model_copy(
            update={"axial_depth": passes.axial_depth / times, "axial_count": passes.axial_count * times}
        )
        cut.path *= times
        share *= times
        because.append(f"step lowered to {cut.passes.axial_depth:.2f} mm a level: it would take {torque}{at}")
    if share < 1.0 - 1e-9:
        because.append(f"feed lowered from {feed:.0f} mm/min: it would take {torque}{at}")
    return feed * share, milling_power(cut.passes.axial_depth, 1.0, force * share, 1.0, machine.efficiency)


def _speed(job: RecipeJob, tool: Tool, vc: float, diameter: float) -> tuple[float, str]:
    """Rev/min within the limits of spindle and cutter, and what limited it, empty for nothing."""
    n = spindle_speed(vc, diameter)
    machine = job.machine
    if tool.RPMX and n > tool.RPMX and machine.max_rpm >= tool.RPMX:
        return tool.RPMX, f"speed limited to the cutter's {tool.RPMX:.0f} rev/min"
    if n >= machine.max_rpm:
        return machine.max_rpm, f"speed limited to the spindle's {machine.max_rpm:.0f} rev/min"
    if n < machine.min_rpm:
        return machine.min_rpm, f"speed raised to the spindle's lowest {machine.min_rpm:.0f} rev/min"
    return n, ""


def drill(recipe: Recipe, job: RecipeJob, cut: Cut) -> Operation:
    """Adds a drilling, spotting, reaming, boring or sinking operation: `path` is the way down at feed."""
    tool = cut.tool
    data = job.material.cutting_data(tool.kind, tool.substrate)
    diameter = cut.cut_diameter or tool.DC
    n, limited = _speed(job, tool, data.vc, diameter)
    f = data.feed(diameter) * cut.slow
    feed = min(n * f, job.machine.max_feed)
    kc = job.material.kc(f / 2.0)
    power = drill_power(diameter, feed, kc, job.machine.efficiency) if tool.kind == "twist_drill" else 0.0
    because = list(cut.because)
    given = job.machine.power_at(n)
    if power > given:
        because.append(
            f"feed lowered: {power:.1f} kW ({torque_of(power, n):.1f} Nm) would exceed the machine's {given:.3g} kW "
            f"({job.machine.torque_at(n):.1f} Nm)"
        )
        feed, power = feed * given / power, given
    minutes = cut.path / feed + _rapids(cut, job, 1)
    if cut.retracts:
        minutes += peck_rapids(cut.passes.axial_depth, cut.retracts + 1) / job.machine.rapid
    because.append(_data_reason(job, tool, cutting_speed(n, diameter), f, data.source, limited))
    return _append(recipe, cut, n, feed, cutting_speed(n, diameter), power, minutes, because)


def tap(recipe: Recipe, job: RecipeJob, cut: Cut, pitch: float) -> Operation:
    """Adds a rigid tapping operation: feed = n P in and out, so the path counts twice."""
    data = job.material.cutting_data("tap", cut.tool.substrate)
    n, _ = _speed(job, cut.tool, data.vc, cut.tool.DC)
    feed = tap_feed(n, pitch)
    minutes = 2.0 * cut.path / feed + _rapids(cut, job, 1)
    because = [
        *cut.because,
        f"rigid tapping: feed {feed:.0f} mm/min = {n:.0f} rev/min x pitch {pitch:g} mm, in and out",
    ]
    return _append(recipe, cut, n, feed, cutting_speed(n, cut.tool.DC), 0.0, minutes, because)


def _rapids(cut: Cut, job: RecipeJob, strokes: int) -> float:
    height = max(cut.levels.top - cut.levels.bottom, 0.0) + CLEARANCE
    return strokes * 2.0 * height / job.machine.rapid


def _data_reason(job: RecipeJob, tool: Tool, vc: float, feed: float, source: str, limited: str) -> str:
    unit = "a rev" if tool.kind in ("twist_drill", "center_drill", "reamer", "boring_tool") else "a tooth"
    text = f"{job.material.name}, {tool.substrate}: {vc:.0f} m/min, {feed:.3f} mm {unit} ({source})"
    return f"{text}; {limited}" if limited else text


def _append(
    recipe: Recipe, cut: Cut, n: float, feed: float, vc: float, power: float, minutes: float, because: list[str]
) -> Operation:
    operation = Operation(
        id=recipe.next_id(),
        feature=cut.features[0] if cut.features else None,
        features=list(cut.features),
        faces=sorted(set(cut.faces)),
        edges=list(cut.edges),
        name=cut.name,
        kind=cut.kind,
        tool=cut.tool,
        levels=cut.levels,
        passes=cut.passes,
        strategy=cut.strategy,
        entry=cut.entry,
        whole_block=cut.whole_block,
        speed=n,
        feed=feed,
        cutting_speed=vc,
        power=power,
        path_length=cut.path,
        minutes=minutes,
        after=recipe.last() if cut.after is None else cut.after,
        because=because,
    )
    recipe.operations.append(operation)
    return operation


def counted(total: float, step: float) -> int:
    """How many steps of at most `step` cover `total`; at least one."""
    return max(1, math.ceil(total / step - 1e-6))


def warn_slender(recipe: Recipe, feature: str, tool: Tool, reach: float) -> None:
    """Adds a finding where a milling cutter reaches deeper than 5 times its diameter."""
    ratio = reach / tool.DC
    if ratio > LENGTH_DIAMETER_WARN:
        recipe.findings.append(
            Finding(
                code="deep_reach",
                severity="warning",
                message=f"{feature}: a {tool.DC:g} mm cutter reaches {reach:.1f} mm deep, {ratio:.1f} times its diameter",
                hint="a larger corner radius or a shallower pocket allows a stiffer cutter; or cut it from another side",
                features=[feature],
            )
        )


def point(tool: Tool) -> float:
    """Length in mm of a drill's point (118 degrees unless the cutter says otherwise)."""
    return point_length(tool.DC, tool.SIG or 118.0)


def names(faces: Sequence[int]) -> str:
    """Faces as text: `face 3`, `faces 3, 4`."""
    return ("face " if len(faces) == 1 else "faces ") + ", ".join(str(f) for f in faces)
