"""What a plan asks of the machine beside speed and power: travels and places in the magazine."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.stock import Stock, dot
from shared.findings import Finding
from shared.plan import Setup, Tool
from shared.shop.machine import Machine
from shared.units import Vector

LARGE = 1000.0
"""Mm: X travel of a machining centre of common size; common practice, no source."""


def machine_limits(machine: Machine, stock: Stock, setups: Sequence[Setup], tools: Sequence[Tool]) -> list[Finding]:
    """Findings where the machine is too small: an error for a travel, a warning for the magazine."""
    found = list(_magazine(machine, tools))
    if not machine.travel:
        return found + list(_large(stock))
    for setup in setups:
        found += _travels(machine, stock, setup)
    return found


def _large(stock: Stock) -> Iterator[Finding]:
    corners = _corners(stock)
    longest = max(_span(corners, axis) for axis in stock.frame)
    if longest > LARGE:
        yield Finding(
            code="travel_unknown",
            severity="warning",
            message=f"the stock is {longest:.0f} mm long and the machine's travels are not known: many machining centres "
            f"travel {LARGE:g} mm or less",
            hint="give the machine with its travels (--machine), and check that its table carries the block",
        )


def _magazine(machine: Machine, tools: Sequence[Tool]) -> Iterator[Finding]:
    if machine.magazine and len(tools) > machine.magazine:
        more = len(tools) - machine.magazine
        yield Finding(
            code="magazine_full",
            severity="warning",
            message=f"{len(tools)} cutters for {machine.magazine} places in the magazine of {machine.name}: {more} must be "
            "changed by hand or between setups, which is not in the minutes",
            hint="load the magazine anew for each setup, or give a cutter file with fewer sizes",
        )


def _travels(machine: Machine, stock: Stock, setup: Setup) -> Iterator[Finding]:
    """The cutter's centre passes over the whole block and, from outside, a cutter's width beyond it on both ends."""
    corners = _corners(stock)
    y_axis = _cross(setup.direction, setup.x_axis)
    outside = [op.tool.DC for op in setup.operations if "outside" in op.entry]
    beyond = max(outside, default=0.0)
    lowest = min((op.levels.bottom - op.levels.break_through for op in setup.operations), default=setup.clearance)
    needs = [
        ("X", _span(corners, setup.x_axis) + beyond),
        ("Y", _span(corners, y_axis) + beyond),
        ("Z", setup.clearance - lowest),
    ]
    for (axis, need), travel in zip(needs, machine.travel, strict=True):
        if need > travel + 1e-6:
            yield Finding(
                code="travel_exceeded",
                severity="error",
                message=f"{setup.id} needs {need:.0f} mm of travel in {axis}, {machine.name} has {travel:g} mm",
                hint="turn the workpiece on the table, or take a larger machine (--machine)",
            )


def _corners(stock: Stock) -> list[Vector]:
    out = []
    for i in range(8):
        levels = [stock.raw_level("+" + a) if i >> k & 1 else -stock.raw_level("-" + a) for k, a in enumerate("xyz")]
        out.append(tuple(sum(v * axis[c] for v, axis in zip(levels, stock.frame, strict=True)) for c in range(3)))
    return out  # type: ignore[return-value]


def _span(points: list[Vector], axis: Vector) -> float:
    along = [dot(p, axis) for p in points]
    return max(along) - min(along)


def _cross(a: Vector, b: Vector) -> Vector:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])
