"""The quote document from a features document, its plan and the shop's rates."""

from __future__ import annotations

import math
from dataclasses import asdict

from service.quoting.costs import costs_of, minutes_of
from service.quoting.drivers import drivers
from service.quoting.special import special_cutters
from shared.features import FeaturesDocument
from shared.findings import Finding
from shared.plan import PlanDocument
from shared.quote import QuoteDocument, Stock
from shared.shop.rates import Rates

QUANTITIES = (1, 10, 100)


def quote(
    features: FeaturesDocument, plan: PlanDocument, rates: Rates, quantities: tuple[int, ...] = QUANTITIES
) -> QuoteDocument:
    """Counts, minutes, price at each quantity, and what drives it."""
    counts: dict[str, int] = {}
    for feature in features.features:
        counts[feature.kind] = counts.get(feature.kind, 0) + 1
    specials = special_cutters(plan)
    stock = _stock(features, plan)
    minutes = minutes_of(plan, rates)
    wanted = sorted(set(quantities))
    kg_price = rates.material.get(plan.job.material)
    costs = costs_of(minutes, rates, stock.mass, kg_price or 0.0, len(specials))
    return QuoteDocument(
        part=plan.part,
        job=plan.job.model_dump(mode="json"),
        rates=asdict(rates),
        counts=counts,
        setups=plan.totals.setups,
        setups_status=plan.proof.setups.status,
        clampings=plan.totals.clampings,
        operations=plan.totals.operations,
        cutters=plan.tools,
        cutter_changes=plan.totals.tool_changes,
        special_cutters=specials,
        stock=stock,
        minutes=minutes,
        prices=[costs.price(q) for q in wanted],
        drivers=drivers(plan, features, costs, rates, wanted, specials),
        unplanned=plan.unplanned,
        warnings=[*_cautions(plan, stock, kg_price), *(f for f in plan.findings if f.severity != "note")],
    )


def _stock(features: FeaturesDocument, plan: PlanDocument) -> Stock:
    """The block's and the part's mass: volume in mm3 times density in kg/dm3, 1e-6."""
    size, density = plan.job.stock.size, plan.job.density
    block = math.prod(size)
    return Stock(
        size=size,
        mass=block * density * 1e-6,
        part_mass=features.part.volume * density * 1e-6,
        chips_share=max(0.0, 1.0 - features.part.volume / block) if block else 0.0,
    )


def _cautions(plan: PlanDocument, stock: Stock, kg_price: float | None) -> list[Finding]:
    """What the price leaves out."""
    out = []
    if plan.unplanned:
        text = f"{len(plan.unplanned)} feature(s) are not planned: neither minutes nor price hold them"
        out.append(Finding(code="price_without_unplanned", severity="error", message=text, hint="price them by hand"))
    if plan.proof.checker:
        text = f"the independent checker found {len(plan.proof.checker)} fault(s) in the plan: the price stands on it"
        out.append(Finding(code="price_of_a_faulty_plan", severity="error", message=text, hint="see sidewise plan"))
    if kg_price is None or not stock.mass:
        what = "price of a kg" if kg_price is None else "density"
        hint = (
            f"[material] {plan.job.material} = ... in the rates file"
            if kg_price is None
            else "density = ... in the material file"
        )
        text = f"no {what} is known for {plan.job.material}: the price is without material"
        out.append(Finding(code="price_without_material", severity="warning", message=text, hint=hint))
    if any(f.code == "may_be_tapped" for f in plan.findings):
        text = "holes of tap drill size are priced as plain holes"
        hint = "name threads with --thread or --notes if they are tapped"
        out.append(Finding(code="threads_not_priced", severity="warning", message=text, hint=hint))
    return out
