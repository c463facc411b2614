"""What makes a part dear, each with what it costs a part and what would lower it."""

from __future__ import annotations

from service.quoting.costs import Costs
from shared.features import FeaturesDocument
from shared.plan import PlanDocument, Setup
from shared.quote import Driver, SpecialCutter
from shared.shop.rates import Rates

FEW = 3
"""A setup that serves no more features than this is named: they alone bring it about."""
MOST = 8
HINTS = {
    "programming": "written once: more parts an order share it",
    "special_cutters": "larger radii and shallower pockets do with cutters of every day",
    "making_ready": "fewer clampings, fewer cutters or larger batches share it",
    "cutting": "see the features that take longest",
    "rapids": "little to be had",
    "cutter_changes": "fewer different radii, holes and threads need fewer cutters",
    "loading": "fewer clampings: cut more from one side",
    "material": "a smaller block, or one nearer to the part's size",
}


def drivers(
    plan: PlanDocument,
    features: FeaturesDocument,
    costs: Costs,
    rates: Rates,
    quantities: list[int],
    specials: list[SpecialCutter],
) -> list[Driver]:
    """Causes of cost, then the setups and features that bring most of it about; dearest first at the middle quantity."""
    middle = len(quantities) // 2
    found = []
    for key in costs.a_part(1):
        each = [costs.factor * costs.a_part(q)[key] for q in quantities]
        found.append(Driver(what=key.replace("_", " "), costs=each, text=HINTS[key]))
    found = [d for d in found if any(c > 0.005 for c in d.costs)]
    found.sort(key=lambda d: -d.costs[middle])
    more = [
        *_setups(plan, costs, rates, quantities),
        *_block(plan, costs, rates, quantities),
        *_features(plan, features, costs, rates, quantities),
    ]
    more.sort(key=lambda d: (-d.costs[middle], d.what))
    return found + more[:MOST]


def _setups(plan: PlanDocument, costs: Costs, rates: Rates, quantities: list[int]) -> list[Driver]:
    """Clampings that few features need: what goes with the clamping if those could be cut from elsewhere."""
    out = []
    for setup in plan.setups:
        alone = sum(s.clamping == setup.clamping for s in plan.setups) == 1
        serves = _served(setup)
        if not alone or not serves or len(serves) > FEW:
            continue
        each = _a_clamping(costs, rates, quantities)
        text = (
            f"a clamping for {len(serves)} feature(s) alone: making ready and loading go with it where they can be cut "
            "from another side or left out"
        )
        out.append(Driver(what=f"setup {setup.id}", costs=each, text=text, features=serves))
    return out


def _block(plan: PlanDocument, costs: Costs, rates: Rates, quantities: list[int]) -> list[Driver]:
    """The clamping that a thicker block would save, where the plan says so."""
    each = _a_clamping(costs, rates, quantities)
    found = [f for f in plan.findings if f.code == "more_stock"]
    return [Driver(what="a thin block", costs=each, text=f"{f.message}: {f.hint}") for f in found]


def _a_clamping(costs: Costs, rates: Rates, quantities: list[int]) -> list[float]:
    """What making ready and loading once cost a part, at each quantity."""
    ready = (rates.setup + rates.prove_out) * rates.setup_hour / 60.0
    load = rates.load * rates.machine_hour / 60.0
    return [costs.factor * (ready / q + load) for q in quantities]


def _served(setup: Setup) -> list[str]:
    """Features that a setup cuts; nothing where it also faces a raw side that no feature owns: that must be done."""
    if any(op.name == "face" and not op.features for op in setup.operations):
        return []
    return list(dict.fromkeys(f for op in setup.operations for f in op.features))


def _features(
    plan: PlanDocument, features: FeaturesDocument, costs: Costs, rates: Rates, quantities: list[int]
) -> list[Driver]:
    """Features by their share of the operations' minutes."""
    minutes: dict[str, float] = {}
    count: dict[str, int] = {}
    for op in (op for s in plan.setups for op in s.operations):
        for feature in op.features:
            minutes[feature] = minutes.get(feature, 0.0) + op.minutes / len(op.features)
            count[feature] = count.get(feature, 0) + 1
    total = sum(op.minutes for s in plan.setups for op in s.operations) or 1.0
    out = []
    for feature in sorted(minutes, key=lambda f: (-minutes[f], f))[:5]:
        share = minutes[feature] / total
        money = costs.factor * minutes[feature] * rates.machine_hour / 60.0 / (1.0 - rates.scrap)
        text = f"{minutes[feature]:.2f} min in {count[feature]} operation(s), {share:.0%} of the cutting{_why(plan, feature)}"
        out.append(Driver(what=feature, costs=[money] * len(quantities), text=text, features=[feature]))
    return out


def _why(plan: PlanDocument, feature: str) -> str:
    """What the plan's findings say about the feature, shortly."""
    codes = dict.fromkeys(
        f.code.replace("_", " ") for f in plan.findings if feature in f.features and f.severity != "note"
    )
    return f"; {', '.join(codes)}" if codes else ""
