"""Whether a thicker raw layer on a side would save a setup: jaws grip that layer alone, and it is faced off later.

Asked where holding the workpiece forces more setups than order alone. First every side is given such a layer; the sides
that the jaws then grip are the candidates, and the fewest of them that still save a setup are named.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import combinations

from planner.kitchen import KitchenMaker
from planner.problem import problem_of
from planner.setups import SetupSolution, solve
from planner.setups.modes import GRIP_MM
from planner.stock import SIDES, Stock
from planner.units import setup_problem
from shared.features import FeaturesDocument
from shared.findings import Finding
from shared.plan import Job

SECONDS = 2.0
"""Seconds of deterministic solver time for each stock that is tried."""


def more_stock(
    document: FeaturesDocument, job: Job, kitchen: KitchenMaker, stock: Stock, setups: int
) -> Finding | None:
    """A note that names the sides and what they save; None where no such layer saves one of the plan's `setups`."""

    def tried(sides: Iterable[str]) -> SetupSolution:
        return _solved(document, job, kitchen, thicker(stock, sides))

    found = tried(SIDES)
    if len(found.slots) >= setups:
        return None
    gripped = sorted({str(s.mode.rest) for s in found.slots if s.mode.grip}, key=SIDES.index)
    for count in range(1, len(gripped) + 1):
        for sides in combinations(gripped, count):
            fewer = len(tried(sides).slots)
            if fewer < setups:
                return _said(stock, job, sides, setups, fewer)
    return None


def thicker(stock: Stock, sides: Iterable[str]) -> Stock:
    """The stock with a layer on some sides that jaws can hold it by alone."""
    chosen = frozenset(sides)
    layers = [max(stock.extra(s), GRIP_MM if s in chosen else 0.0) for s in SIDES]
    return replace(stock, allowance=tuple(layers))


def _solved(document: FeaturesDocument, job: Job, kitchen: KitchenMaker, stock: Stock) -> SetupSolution:
    recipes = kitchen(job, document, stock)
    problem = problem_of(document, stock, job.axes, recipes.feature, recipes.edge_reach)
    grouped = setup_problem(problem, job.vise, recipes.job.machine.tilt)
    return solve(grouped.setups, min(SECONDS, job.time_limit))


def _said(stock: Stock, job: Job, sides: tuple[str, ...], setups: int, fewer: int) -> Finding:
    layers = " and ".join(f"{GRIP_MM:g} mm on {s} instead of {stock.extra(s):g} mm" for s in sides)
    now = ",".join(f"{a:g}" for a in thicker(stock, sides).allowance)
    again = "a block that is so much larger there" if job.stock_box is not None else f"--stock {now}"
    return Finding(
        code="more_stock",
        message=f"holding the workpiece forces a setup that a thicker block saves: with {layers}, {fewer} setups would do "
        f"instead of {setups}; jaws grip that layer below the part, and it is faced off when the part is turned over",
        hint=f"plan it again with {again}",
    )
