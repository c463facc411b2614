"""The fewest setups, proven, and among those the best.

First a search over sets of finished units gives the fewest that order alone allows. Then the rules of holding are asked
for that many setups, one more, two more; what was refused is the bound. Where every setup is a clamping of its own, a
search answers (by_holding), else the solver's model. Fixtures come in only where no vise can hold the workpiece. One
worker, a fixed seed and limits in deterministic time: the same problem gives the same
answer.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from ortools.sat.python import cp_model

from planner.setups import clamped
from planner.setups.by_holding import MAX_STEPS, Holding, Policy, within
from planner.setups.by_order import fewest_by_order
from planner.setups.data import SetupProblem, SetupSolution, Slot
from planner.setups.forcing import force_by_order, reduced
from planner.setups.goals import Prices
from planner.setups.greedy import along, greedy
from planner.setups.rules import RULES
from planner.setups.rules.fixtures import anywhere, forbid, needs_fixture, where_forced
from planner.setups.rules.objective import at_most, fewest_clampings, minimise
from planner.setups.variables import Variables

Rule = Callable[[Variables], None]
Slots = tuple[Slot, ...]
EXTRA_SETUPS = 3
"""Setups above the bound of order alone that are tried before a fixture is accepted."""
CLAMPINGS = 2.0
"""Seconds of deterministic time for each number of clampings that is tried to be refused."""
SECONDARY = 1.0
"""Seconds of deterministic time for the goals after the number of setups; past it the best plan found is taken."""
SEARCH = {"linearization_level": 0, "max_presolve_iterations": 1, "cp_model_probing_level": 0, "symmetry_level": 0}
"""Models this small and this clausal are solved sooner than they are prepared: 4 times as fast as with level 2, measured
on the demo parts (3, 4 and 5 axes) and 45 labelled ones, and with every optimum proven."""
FEASIBLE = (cp_model.OPTIMAL, cp_model.FEASIBLE)


class Budget:
    """Seconds of deterministic time left for the whole search."""

    def __init__(self, seconds: float) -> None:
        self.left = seconds
        self.ran_out = False

    def run(self, v: Variables, most: float) -> tuple[cp_model.CpSolver, cp_model.CpSolverStatus]:
        """Solves with at most `most` seconds of what is left."""
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 0
        solver.parameters.max_deterministic_time = max(0.05, min(most, self.left))
        for name, value in SEARCH.items():
            setattr(solver.parameters, name, value)
        status = solver.solve(v.model)
        self.left = max(0.0, self.left - solver.response_proto.deterministic_time)
        return solver, status


def solve(problem: SetupProblem, time_limit: float = 20.0, prices: Prices | None = None) -> SetupSolution:
    """The fewest setups for all units, their order, directions and holding; then the goals of rules.objective.

    On machines that turn the part: the fewest clampings and then setups, or the other way round as `prices` say. Prices
    of another order, or of the job's own, are made smallest over plans with up to `EXTRA_SETUPS` more setups.
    `time_limit`: seconds of solver time; when they run out the best known plan is returned with the bound proven so far.
    Raises ValueError when the units' order has a cycle.
    """
    prices = prices or Prices()
    if not problem.units:
        return SetupSolution((), 0, "optimal")
    budget = Budget(time_limit)
    order = fewest_by_order(problem)
    known = along(problem, order.directions) if order.directions is not None else greedy(problem)
    for policy in _policies(problem):
        rules = (*RULES, policy)
        least, slots = _fewest(problem, rules, policy, order.lower_bound, known, budget)
        if slots is not None:
            found = _Found(problem, rules, policy, least, order.lower_bound, budget, prices)
            return found.by_goals(slots)
    return _finished(problem, known, (*RULES, anywhere), anywhere, order.lower_bound, order.lower_bound, budget)


@dataclass
class _Found:
    """A search that knows the fewest setups; what follows are the other goals."""

    problem: SetupProblem
    rules: tuple[Rule, ...]
    policy: Rule
    least: int
    by_order: int
    budget: Budget
    prices: Prices

    def by_goals(self, slots: Slots) -> SetupSolution:
        """The best plan by the prices, from one with the fewest setups."""
        best = _best(self.problem, (*self.rules, minimise(self.prices)), self._few_clampings(slots), self.budget)
        fewest = self._least_clampings(best) if self.problem.several_setups_a_clamping else self.least
        note = ""
        if self.prices.ordered and self.prices.clampings_first and clampings_of(best) > fewest:
            best, note = self._more_setups(best, fewest)
        elif not self.prices.ordered:
            best = self._cheapest(best)
        solution = _finished(self.problem, best, self.rules, self.policy, self.least, self.by_order, self.budget)
        if note:
            solution = replace(solution, notes=(*solution.notes, note))
        fewest = min(fewest, clampings_of(best))
        return replace(solution, clampings=clampings_of(best), least_clampings=fewest)

    def _few_clampings(self, slots: Slots) -> Slots:
        if not self.problem.several_setups_a_clamping:
            return slots
        return _best(self.problem, (*self.rules, fewest_clampings), slots, self.budget)

    def _least_clampings(self, known: Slots) -> int:
        """A proven lower bound of the number of clampings, the known plan's at most."""
        for count in range(1, clampings_of(known)):
            v = _model(self.problem, (*clamped.RULES, self.policy), count)
            if self.budget.run(v, CLAMPINGS)[1] != cp_model.INFEASIBLE:
                return count
        return clampings_of(known)

    def _more_setups(self, known: Slots, clampings: int) -> tuple[Slots, str]:
        """A plan with that few clampings and the fewest setups beyond the known one's, and what to say of it."""
        few, proven, rules = len(known), True, (*self.rules, at_most(clampings))
        for count in range(few, few + EXTRA_SETUPS + 1):
            v = _model(self.problem, rules, count)
            solver, status = self.budget.run(v, 0.4 * self.budget.left)
            if status in FEASIBLE:
                slots = _best(self.problem, (*rules, minimise(self.prices)), _read(v, solver), self.budget)
                if count == few:
                    return slots, ""
                if proven and self.least == few:
                    self.least, self.rules = count, rules
                text = (
                    f"{few} setups would do in {clampings_of(known)} clampings; fewer clampings come first: {clampings}"
                )
                return slots, text
            proven = proven and status == cp_model.INFEASIBLE
        return known, ""

    def _cheapest(self, known: Slots) -> Slots:
        """The plan whose prices add up to least, with as many setups as the known one or a few more."""
        found = [(self._price(known), known)]
        for count in range(len(known) + 1, len(known) + EXTRA_SETUPS + 1):
            v = _model(self.problem, (*self.rules, minimise(self.prices)), count)
            solver, status = self.budget.run(v, SECONDARY)
            if status in FEASIBLE:
                slots = tuple(s for s in _read(v, solver) if s.units)
                found.append((self._price(slots), slots))
        return min(found, key=lambda f: f[0])[1]

    def _price(self, slots: Slots) -> float:
        """What a plan costs by the prices of setups, clampings, cutters a setup and minutes."""
        by_id = {u.id: u for u in self.problem.units}
        total = float(self.prices.setup * len(slots) + self.prices.clamping * clampings_of(slots))
        for slot in slots:
            here = [by_id[name] for name in slot.units]
            tools = {t for u in here for t in u.tools.get(slot.direction, frozenset())}
            total += self.prices.tool * len(tools)
            total += self.prices.minute * sum(u.minutes.get(slot.direction, 0.0) for u in here)
        return total


def clampings_of(slots: Slots) -> int:
    """How many times the workpiece is clamped."""
    return sum(not slot.same_clamping for slot in slots)


def _policies(problem: SetupProblem) -> tuple[Rule, ...]:
    forced = any(needs_fixture(problem, u) for u in problem.units)
    return (where_forced, anywhere) if forced else (forbid, anywhere)


def _fewest(
    problem: SetupProblem, rules: tuple[Rule, ...], policy: Rule, least: int, known: Slots, budget: Budget
) -> tuple[int, Slots | None]:
    """(proven lower bound, slots with the fewest setups that the rules allow, or None)."""
    most = len(known) if policy is anywhere else least + EXTRA_SETUPS
    bound, proven = least, True
    for count in range(least, most + 1):
        if len(known) == count and _holds(known, policy):
            return bound, known
        found = _held(problem, rules, policy, count, budget)
        if not isinstance(found, str):
            return bound, found
        budget.ran_out |= found == "unknown"
        proven = proven and found == "never"
        bound = count + 1 if proven else bound
    return bound, None


def _held(
    problem: SetupProblem, rules: tuple[Rule, ...], policy: Rule, count: int, budget: Budget
) -> Slots | Literal["never", "unknown"]:
    """Setups by all rules, as many as given; else whether it is proven that there are none.

    What can be done is asked of the model all the same: from its setups the solver finds the better ones among plans that
    are equal by every goal of the model (begun with those of the search, it left a plate's edges unbroken).
    """
    if not problem.several_setups_a_clamping and within(_holding(problem, policy), count).never:
        return "never"
    v = _model(problem, rules, count)
    solver, status = budget.run(v, 0.4 * budget.left)
    if status in FEASIBLE:
        return _read(v, solver)
    return "never" if status == cp_model.INFEASIBLE else "unknown"


def _holding(problem: SetupProblem, policy: Policy) -> Holding:
    return problem.once(("holding", policy), lambda: Holding(problem, policy))


def _holds(known: Slots, policy: Rule) -> bool:
    """Whether a plan made without the model keeps its rules of holding: it does when it needs no fixture."""
    return policy is anywhere or not any(slot.mode.fixture for slot in known)


def _model(problem: SetupProblem, rules: tuple[Rule, ...], slots: int) -> Variables:
    v = Variables(cp_model.CpModel(), problem, slots)
    for rule in rules:
        rule(v)
    return v


def _best(problem: SetupProblem, rules: tuple[Rule, ...], known: Slots, budget: Budget) -> Slots:
    """The best plan with as many setups by a goal among the rules, from the known one; that one where time is short."""
    v = _model(problem, rules, len(known))
    for k, slot in enumerate(known):
        for d in range(len(problem.directions)):
            v.model.add_hint(v.direction[k, d], d == slot.direction)
        if k:
            v.model.add_hint(v.same[k], slot.same_clamping)
        for m, mode in enumerate(problem.modes):
            v.model.add_hint(v.mode[k, m], mode == slot.mode)
        for unit in problem.units:
            for d in unit.directions:
                v.model.add_hint(v.cut[unit.id, k, d], d == slot.direction and unit.id in slot.units)
    solver, status = budget.run(v, SECONDARY)
    return _read(v, solver) if status in FEASIBLE else known


def _read(v: Variables, solver: cp_model.CpSolver) -> Slots:
    out = []
    for k in range(v.slots):
        direction = next(d for d in range(len(v.problem.directions)) if solver.value(v.direction[k, d]))
        mode = next(mode for m, mode in enumerate(v.problem.modes) if solver.value(v.mode[k, m]))
        units = tuple(u.id for u in v.problem.units if any(solver.value(v.cut[u.id, k, d]) for d in u.directions))
        out.append(Slot(direction, mode, bool(k and solver.value(v.same[k])), units))
    return tuple(out)


def _finished(
    problem: SetupProblem,
    slots: Slots,
    rules: tuple[Rule, ...],
    policy: Rule,
    least: int,
    by_order: int,
    budget: Budget,
) -> SetupSolution:
    count = len(slots)
    status = "optimal" if least >= count else "time_limit" if budget.ran_out or budget.left <= 0 else "feasible"
    core: tuple[str, ...] = ()
    if status == "optimal":
        core = force_by_order(problem, count) if count == by_order else force(problem, rules, policy, count, budget)
    held = count > by_order and status == "optimal"
    notes = (
        (f"order alone would allow {by_order}: holding the workpiece forces {count - by_order} more",) if held else ()
    )
    return SetupSolution(slots, least, status, core, held, notes)


def force(problem: SetupProblem, rules: tuple[Rule, ...], policy: Rule, count: int, budget: Budget) -> tuple[str, ...]:
    """A smallest set of units (none can be left out) that all rules keep from being cut in fewer setups."""
    spent = 0

    def needed(names: frozenset[str]) -> bool:
        nonlocal spent
        if not problem.several_setups_a_clamping and spent < MAX_STEPS:
            found = within(_holding(problem, policy).only(names), count - 1, MAX_STEPS - spent)
            spent += found.steps
            if found.slots is not None or found.never:
                return found.never
        _, status = budget.run(_model(problem.only(names), rules, count - 1), 0.1 * budget.left)
        return status == cp_model.INFEASIBLE

    return reduced(problem, count, needed, lambda: budget.left > 0.1)
