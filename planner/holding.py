"""The figures of a clamping: what holds, how wide it opens, how high it may stand, how much of it presses on the part."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from planner.problem import Problem
from planner.setups import Mode, Slot, Unit
from planner.setups.contact import END_GAP, GAP, Grips
from planner.stock import opposite
from planner.units import Grouped
from shared.findings import Finding
from shared.units import Mm

Device = Literal["vise", "table_clamps", "chuck", "between_ends", "fixture"]


@dataclass(frozen=True)
class Hold:
    """What a clamping needs, mm and mm2; None where nothing is known. `top`: level of the jaws above the finished rest."""

    device: Device = "fixture"
    opening: Mm | None = None
    grip_height: Mm | None = None
    top: Mm | None = None
    jaw_width: Mm | None = None
    contact_area: float | None = None
    because: list[str] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


def hold_of(problem: Problem, grouped: Grouped, slots: list[Slot], cut: frozenset[str]) -> Hold:
    """The figures for the setups of one clamping; `cut`: stock sides at size when it starts."""
    mode = slots[0].mode
    if mode.fixture:
        return Hold()
    grips = grouped.grips
    pair = (f"-{mode.pair}", f"+{mode.pair}")
    opening = sum(
        problem.stock.part_level(s) + (0.0 if s in cut and not mode.grip else problem.stock.extra(s)) for s in pair
    )
    if mode.between_ends or mode.rest is None:
        why = f"{opening:g} mm between the ends; what is cut stays {mode.need:g} mm or more off the middle line there"
        return Hold("between_ends", opening, because=[why])
    below = 0.0 if mode.rest in cut else problem.stock.extra(mode.rest)
    top = _top(grouped, mode, slots, below)
    device: Device = "chuck" if mode.rotary else "vise"
    if opening > grips.vise.opening:
        device = "table_clamps"
    width, wide = _width(grouped, mode, slots, device)
    low = below > 0.0 and top < mode.need - GAP - 1e-6
    raw = mode.sides if low else mode.raw  # lower jaws: on the raw sides of the layer below
    area = grips.facing(mode.rest, str(mode.pair), raw, top, width)[0] if not mode.grip else None
    return Hold(
        device, opening, top + below, top, width, area, [*_words(mode, device, opening, top + below, grips), *wide], []
    )


def _top(grouped: Grouped, mode: Mode, slots: list[Slot], below: Mm) -> Mm:
    """How high jaws may stand above the finished rest side: below all that runs out or comes in over them."""
    if mode.grip:
        return -2.0 * GAP
    stock, vise = grouped.grips.stock, grouped.grips.vise
    thick = stock.part_level(str(mode.rest)) + stock.part_level(opposite(str(mode.rest)))
    # No higher than the finished part: what stands out over it is in the way of every holder.
    lowest = [vise.jaw_height - below + GAP, max(thick, vise.least_grip) + GAP]
    for slot in slots:
        for unit in _units(grouped, slot):
            tables = (unit.opens.get(slot.direction, {}), unit.over.get(slot.direction, {}))
            lowest += [h for t in tables for (rest, side), h in t.items() if rest == mode.rest and side[1] == mode.pair]
    return round(min(lowest) - GAP, 6)


def _units(grouped: Grouped, slot: Slot) -> list[Unit]:
    return [u for u in grouped.setups.units if u.id in slot.units]


def _width(grouped: Grouped, mode: Mode, slots: list[Slot], device: Device) -> tuple[Mm | None, list[str]]:
    """The widest jaws that serve, and in words what they must leave free."""
    along = grouped.grips.along(str(mode.rest), str(mode.pair))
    cut = {s for slot in slots for u in _units(grouped, slot) for s in u.cuts.get(slot.direction, frozenset())}
    ends = sorted(cut & {"-" + along, "+" + along})
    units = [(u, slot.direction) for slot in slots for u in _units(grouped, slot)]
    corners = max((u.ends.get(d, {}).get(along, 0.0) for u, d in units), default=0.0)
    if mode.grip or device == "table_clamps":
        return None, [
            f"no clamp may stand in front of {' and '.join(ends)}, which are cut"
        ] if ends and not mode.grip else []
    if len(ends) == 2 or corners:
        width = grouped.grips.jaws_between(along, max(corners, END_GAP))
        return width, [
            f"jaws at most {width or 0:g} mm wide: {'corners' if corners else 'both ends'} beside them are cut, "
            f"{END_GAP:g} mm away or more"
        ]
    widest = max(grouped.grips.vise.jaw_widths)
    return widest, [f"the end {ends[0]} stands clear of the jaws: it is cut"] if ends else []


def _words(mode: Mode, device: Device, opening: Mm, height: Mm, grips: Grips) -> list[str]:
    if mode.grip:
        return [f"the jaws stand {height:g} mm high, under the lowest cut by {GAP:g} mm"]
    out = [
        f"jaws or clamps may stand {height:.4g} mm above what it rests on: {GAP:g} mm or more below all that is cut over them"
    ]
    if device == "table_clamps":
        out.append(
            f"{opening:g} mm is wider than the vise opens ({grips.vise.opening:g} mm): side clamps against stops, on the table"
        )
    return out
