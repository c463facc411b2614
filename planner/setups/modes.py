"""Ways to hold the workpiece on machines of 3, 4 and 5 axes: which directions each leaves open, which sides it needs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from planner.setups.contact import GAP, Grips
from planner.setups.data import Mode
from planner.stock import SIDES, Stock, dot, opposite
from shared.plan import Vise
from shared.units import Mm, Vector

GRIP_MM: Mm = 5.0
"""Raw layer below the part from which jaws can hold it by that layer alone: 3 mm gripped, one for cutters that go past
the part's bottom, one between them; common practice, no source."""
LEVEL = 0.02
"""Cosine below which a direction counts as level with the table, about 1 degree: still reached on a 5-axis machine."""
PAD: Mm = 15.0
"""Radius of what holds a part between its ends; a quarter of a thin part's section. Common practice, no source."""


def modes_for(
    directions: Sequence[Vector],
    stock: Stock,
    axes: int,
    vise: Vise | None = None,
    grips: Grips | None = None,
    tilt: float = 90.0,
) -> tuple[Mode, ...]:
    """Every mode of a machine with that many axes, the best liked first; fixtures last, one a direction.

    `grips`: what the finished part's faces offer; None takes every side for flat all over. `tilt`: degrees that the table
    of a 5-axis machine leans away from the spindle at most.
    """
    shop = grips or Grips(stock, vise or Vise())  # type: ignore[call-arg]
    sides = [stock.side_of(d) for d in directions]
    modes = _three(sides, shop)
    if axes == 4:
        modes += _four(directions, shop)
    if axes == 5:
        modes += _five(directions, shop, tilt)
    modes.sort(key=lambda m: m.cost)
    modes += [Mode(f"fixture {i}", frozenset({i}), fixture=True) for i in range(len(directions))]
    return tuple(modes)


def _pairs(side: str) -> list[str]:
    """Axes across a side: those whose two sides can be clamped while it rests on this one."""
    return [a for a in "xyz" if a != side[1]]


def _held(name: str, open_to: frozenset[int], rest: str, pair: str, shop: Grips) -> list[Mode]:
    """A vise: rest below and a pair across; and, where the raw layer below is thick enough, gripping that alone."""
    stock, out = shop.stock, []
    for raw, need in shop.states(rest, pair):
        said = f" while {' '.join(sorted(raw))} raw" if raw else ""
        out.append(
            Mode(
                f"{name} {rest} {pair}{said}", open_to, rest, pair, raw=raw, need=need + GAP, below=stock.extra(rest),
                ends=shop.blocked_ends(rest, pair), cost=shop.cost(rest, pair) + len(raw),
            )
        )  # fmt: skip
    if stock.extra(rest) >= GRIP_MM and shop.thick(rest):
        cost = shop.cost(rest, pair) + 5
        out.append(Mode(f"{name} grip {rest} {pair}", open_to, rest, pair, grip=True, need=-GAP, cost=cost))
    return out


def _three(sides: Sequence[str | None], shop: Grips) -> list[Mode]:
    """Three axes: one direction, resting on the side across."""
    out: list[Mode] = []
    for i, side in enumerate(sides):
        if side is not None:
            for pair in _pairs(side):
                out += _held(f"vise {i}", frozenset({i}), opposite(side), pair, shop)
    return out


def _four(directions: Sequence[Vector], shop: Grips) -> list[Mode]:
    """Four axes: every direction square to the rotary axis, held between the ends or by one end."""
    out: list[Mode] = []
    for axis in "xyz":
        along = shop.stock.direction("+" + axis)
        open_to = frozenset(i for i, d in enumerate(directions) if abs(dot(d, along)) < LEVEL)
        if len(open_to) > 1:
            thin = min(shop.size(a) for a in "xyz" if a != axis)
            out.append(
                Mode(
                    f"rotary {axis} between ends", open_to, None, axis, between_ends=True, rotary=axis,
                    need=min(PAD, thin / 4.0), cost=8,
                )
            )  # fmt: skip
            for rest in ("-" + axis, "+" + axis):
                for pair in _pairs(rest):
                    out += [replace(m, rotary=axis) for m in _held(f"rotary {axis}", open_to, rest, pair, shop)]
    return out


def _five(directions: Sequence[Vector], shop: Grips, tilt: float) -> list[Mode]:
    """Five axes: every direction that the table can lean to, none from below it."""
    out: list[Mode] = []
    least = math.cos(math.radians(min(tilt, 90.0))) - LEVEL
    for rest in SIDES:
        up = shop.stock.direction(opposite(rest))
        open_to = frozenset(i for i, d in enumerate(directions) if dot(d, up) > least)
        if len(open_to) > 1:
            for pair in _pairs(rest):
                out += _held("tilting table", open_to, rest, pair, shop)
    return out
