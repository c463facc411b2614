"""Minutes and money of a plan: programming once, making ready a batch, cutting and loading a part."""

from __future__ import annotations

from dataclasses import dataclass

from shared.plan import PlanDocument
from shared.quote import Minutes, Price
from shared.shop.rates import Rates

KEYS = ("programming", "special_cutters", "making_ready", "cutting", "rapids", "cutter_changes", "loading", "material")


@dataclass(frozen=True)
class Costs:
    """Money without markup: `once` an order, `batch` each time it is set up (once, too), `each` a part."""

    once: dict[str, float]
    each: dict[str, float]
    factor: float

    def a_part(self, quantity: int) -> dict[str, float]:
        """By cause, a part, markup apart, in the order of KEYS."""
        parts = {k: v / quantity for k, v in self.once.items()} | self.each
        return {k: parts[k] for k in KEYS if k in parts}

    def price(self, quantity: int) -> Price:
        """Price of a part when `quantity` are made at once."""
        parts = self.a_part(quantity)
        parts["markup"] = sum(parts.values()) * (self.factor - 1.0)
        each = sum(parts.values())
        return Price(quantity=quantity, each=each, total=each * quantity, parts=parts)


def minutes_of(plan: PlanDocument, rates: Rates) -> Minutes:
    """Where the time goes, by the plan's operations and the shop's rates."""
    operations = [op for setup in plan.setups for op in setup.operations]
    cutting = sum(op.path_length / op.feed for op in operations if op.kind != "tapping")
    cutting += sum(op.minutes for op in operations if op.kind == "tapping")  # in and out, both at feed
    total = sum(op.minutes for op in operations)
    return Minutes(
        cutting=cutting,
        rapids=max(total - cutting, 0.0),
        cutter_changes=plan.totals.minutes - total,
        cycle=plan.totals.minutes,
        loading=plan.totals.clampings * rates.load + rates.inspection,
        making_ready=plan.totals.clampings * rates.setup
        + plan.totals.setups * rates.prove_out
        + plan.totals.tools * rates.cutter,
        programming=rates.programming + plan.totals.operations * rates.programming_operation,
    )


def costs_of(minutes: Minutes, rates: Rates, mass: float, kg_price: float, specials: int) -> Costs:
    """Money by cause. Scrap makes each good part pay for a share of a lost one."""
    hour = rates.machine_hour / 60.0
    lost = 1.0 / (1.0 - rates.scrap)
    once = {
        "programming": minutes.programming * rates.programming_hour / 60.0,
        "special_cutters": specials * rates.special_cutter,
        "making_ready": minutes.making_ready * rates.setup_hour / 60.0,
    }
    each = {
        "cutting": minutes.cutting * hour * lost,
        "rapids": minutes.rapids * hour * lost,
        "cutter_changes": minutes.cutter_changes * hour * lost,
        "loading": minutes.loading * hour * lost,
        "material": mass * kg_price * lost,
    }
    return Costs(once, each, 1.0 + rates.markup)
