"""What is preferred among plans with the fewest setups: no fixture, few clampings, edges broken, cutters, minutes."""

from collections.abc import Callable

from ortools.sat.python import cp_model

from planner.setups.data import EdgeGroup
from planner.setups.goals import SLENDER, Prices
from planner.setups.variables import Variables

FIXTURE = 10**17
"""Price of a setup that no vise holds: above all goals."""


def fewest_clampings(v: Variables) -> None:
    """Fixtures, then clampings, alone: a small goal that is found fast."""
    fixtures = [v.mode[k, m] for k in range(v.slots) for m, mode in enumerate(v.problem.modes) if mode.fixture]
    v.model.minimize(100 * sum(fixtures) - sum(v.same.values()))


def at_most(clampings: int) -> Callable[[Variables], None]:
    """A rule: no more clampings than this."""

    def add(v: Variables) -> None:
        v.model.add(sum(v.same.values()) >= v.slots - clampings)

    return add


def minimise(prices: Prices) -> Callable[[Variables], None]:
    """A rule: fixtures, then what the prices say of clampings, edges that no setup breaks and cuts deeper
    than their cutters are stiff, cutters a setup, minutes."""

    def add(v: Variables) -> None:
        terms: list[cp_model.LinearExprT] = []
        for k in range(v.slots):
            terms += [FIXTURE * v.mode[k, m] for m, mode in enumerate(v.problem.modes) if mode.fixture]
            early = v.slots - k  # the sturdiest ways to hold come first: big faces before narrow ones
            terms += [(m + 20 * early * mode.cost) * v.mode[k, m] for m, mode in enumerate(v.problem.modes)]
            terms += [early * d * v.direction[k, d] for d in range(len(v.problem.directions))]
            terms += [prices.tool * used for used in _cutters_used(v, k)]
        terms += [-prices.clamping * same for same in v.same.values()]
        terms += [-prices.edge * group.count * _broken(v, group) for group in v.problem.edges]
        for (name, k, d), cut in v.cut.items():
            unit = next(u for u in v.problem.units if u.id == name)
            deep = SLENDER * prices.edge if d in unit.slender else 0
            price = deep + round(prices.minute * unit.minutes.get(d, 0.0)) + 10 * unit.directions.index(d) + k
            terms.append(price * cut)
        v.model.minimize(sum(terms))

    return add


def _cutters_used(v: Variables, k: int) -> list[cp_model.IntVar]:
    """One unknown for each cutter: whether slot k uses it."""
    users: dict[str, list[cp_model.IntVar]] = {}
    for unit in v.problem.units:
        for d in unit.directions:
            for tool in sorted(unit.tools.get(d, frozenset())):
                users.setdefault(tool, []).append(v.cut[unit.id, k, d])
    out = []
    for tool in sorted(users):
        used = v.model.new_bool_var(f"slot {k} uses {tool}")
        v.model.add_max_equality(used, users[tool])
        out.append(used)
    return out


def _broken(v: Variables, group: EdgeGroup) -> cp_model.IntVar:
    """Whether some slot breaks the edges: its direction sees them, and what makes them is cut by then, or their side is
    faced and their wall follows a groove."""
    served = v.model.new_bool_var("edges broken")
    chances = []
    for k in range(v.slots):
        chance = v.model.new_bool_var(f"edges broken in slot {k}")
        v.model.add(chance <= sum(v.direction[k, d] for d in sorted(group.directions)))
        for unit in sorted(group.units):
            v.model.add(chance <= v.by_slot(unit, k))
        chances.append(chance)
        for unit, d in sorted(group.ahead):
            early = v.model.new_bool_var(f"edges broken ahead in slot {k}")
            v.model.add(early <= v.direction[k, d])
            v.model.add(early <= v.by_slot(unit, k))
            chances.append(early)
    v.model.add(served <= sum(chances))
    return served
