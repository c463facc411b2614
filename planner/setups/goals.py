"""The order of the goals as prices: what one clamping, setup, cutter and minute count, so that one sum ranks plans."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shared.plan import GOALS, Goal

RANKS = (10**15, 10**13, 10**7, 10**3)
"""Prices of one unit of the first to the last goal: no gain in a later one outweighs an earlier one."""
EDGE = 10**10
"""Price of an edge left to be deburred by hand, where goals have an order: after setups, before cutters."""
SLENDER = 2
"""Edges left to be deburred by hand that a cut counts as which is milled deeper than its cutter is stiff: it bends and
chatters; common practice, no source."""
BY_HAND = 0.2
"""Minutes that deburring an edge by hand takes, where goals have prices of their own; common practice, no source."""
UNIT = 10**6
"""Whole numbers of the model in one unit of a price that the job gives."""


@dataclass(frozen=True)
class Prices:
    """What counts how much in the model's objective. `ordered`: one goal after the other, clampings and setups first."""

    clamping: int = RANKS[0]
    setup: int = RANKS[1]
    tool: int = RANKS[2]
    minute: int = RANKS[3]
    edge: int = EDGE
    ordered: bool = True
    clampings_first: bool = True


def prices_of(goals: Sequence[Goal] = GOALS, weights: Mapping[Goal, float] | None = None) -> Prices:
    """Prices for a job's goals. Raises ValueError for a weight below nought, or goals named twice."""
    if len(set(goals)) != len(goals):
        raise ValueError("a goal is named twice")
    if weights:
        if min(weights.values()) < 0 or not any(weights.values()):
            raise ValueError("weights are prices: zero or more, and one at least above zero")
        scale = UNIT / max(weights.values())
        price = {g: round(scale * 1000 * weights.get(g, 0.0)) for g in GOALS}
        edge = round(BY_HAND * price["minutes"])
        return Prices(*_four(price), edge=edge, ordered=False)
    order = [*goals, *(g for g in GOALS if g not in goals)]
    rank = {g: RANKS[i] for i, g in enumerate(order)}
    ordered = set(order[:2]) == {"clampings", "setups"}
    first = order.index("clampings") < order.index("setups")
    return Prices(*_four(rank), ordered=ordered, clampings_first=first)


def _four(price: Mapping[Goal, int]) -> tuple[int, int, int, int]:
    return price["clampings"], price["setups"], price["tool_changes"], price["minutes"]
