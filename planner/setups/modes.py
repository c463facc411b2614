"""Ways to hold the workpiece on machines of 3, 4 and 5 axes: which directions each leaves open, which sides it needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.setups.data import Mode
from planner.stock import SIDES, Stock, dot, opposite
from shared.units import Mm, Vector

GRIP_MM: Mm = 5.0
"""Raw layer below the part from which jaws can hold it by that layer alone: common practice, no source."""
LEVEL = 0.02
"""Cosine below which a direction counts as level with the table, about 1 degree: still reached on a 5-axis machine."""


def modes_for(directions: Sequence[Vector], stock: Stock, axes: int) -> tuple[Mode, ...]:
    """Every mode of a machine with that many axes, plain ones first; fixtures last, one a direction."""
    sides = [stock.side_of(d) for d in directions]
    modes = _three(sides, stock)
    if axes == 4:
        modes += _four(directions, stock)
    if axes == 5:
        modes += _five(directions, stock)
    modes += [Mode(f"fixture {i}", frozenset({i}), fixture=True) for i in range(len(directions))]
    return tuple(modes)


def _pairs(side: str) -> list[str]:
    """Axes across a side: those whose two sides can be clamped while it rests on this one."""
    return [a for a in "xyz" if a != side[1]]


def _held(name: str, open_to: frozenset[int], rest: str, pair: str, stock: Stock) -> list[Mode]:
    """A vise: rest below and a pair across; and, where the raw layer below is thick enough, gripping that alone."""
    plain = Mode(f"{name} {rest} {pair}", open_to, rest, pair)
    if stock.extra(rest) < GRIP_MM:
        return [plain]
    return [plain, Mode(f"{name} grip {rest} {pair}", open_to, rest, pair, grip=True)]


def _three(sides: Sequence[str | None], stock: Stock) -> list[Mode]:
    """Three axes: one direction, resting on the side across."""
    out: list[Mode] = []
    for i, side in enumerate(sides):
        if side is not None:
            for pair in _pairs(side):
                out += _held(f"vise {i}", frozenset({i}), opposite(side), pair, stock)
    return out


def _four(directions: Sequence[Vector], stock: Stock) -> list[Mode]:
    """Four axes: every direction square to the rotary axis, held between the ends or by one end."""
    out: list[Mode] = []
    for axis in "xyz":
        along = stock.direction("+" + axis)
        open_to = frozenset(i for i, d in enumerate(directions) if abs(dot(d, along)) < LEVEL)
        if len(open_to) > 1:
            out.append(Mode(f"rotary {axis} between ends", open_to, None, axis, between_ends=True, rotary=axis))
            for rest in ("-" + axis, "+" + axis):
                for pair in _pairs(rest):
                    out += [replace(m, rotary=axis) for m in _held(f"rotary {axis}", open_to, rest, pair, stock)]
    return out


def _five(directions: Sequence[Vector], stock: Stock) -> list[Mode]:
    """Five axes: every direction that does not come from below the table."""
    out: list[Mode] = []
    for rest in SIDES:
        up = stock.direction(opposite(rest))
        open_to = frozenset(i for i, d in enumerate(directions) if dot(d, up) > -LEVEL)
        if len(open_to) > 1:
            for pair in _pairs(rest):
                out += _held("tilting table", open_to, rest, pair, stock)
    return out
