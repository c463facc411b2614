"""The fewest setups, proven, and among those the best.

First a search over sets of finished units gives the fewest that order alone allows. Then the model with the rules of
holding is asked for that many setups, one more, two more; what was refused is the bound. Fixtures come in only where no
vise can hold the workpiece. One worker, a fixed seed and limits in deterministic time: the same problem gives the same
answer.
"""

from __future__ import annotations

from collections.abc import Callable

from ortools.sat.python import cp_model

from planner.setups.by_order import fewest_by_order
from planner.setups.data import SetupProblem, SetupSolution, Slot
from planner.setups.greedy import along, greedy
from planner.setups.rules import RULES
from planner.setups.rules.fixtures import anywhere, forbid, needs_fixture, where_forced
from planner.setups.rules.objective import fewest_clampings, minimise
from planner.setups.variables import Variables

Rule = Callable[[Variables], None]
Slots = tuple[Slot, ...]
EXTRA_SETUPS = 3
"""Setups above the bound of order alone that are tried before a fixture is accepted."""
SECONDARY = 1.0
"""Seconds of deterministic time for the goals after the number of setups; past it the best plan found is taken."""
CORE_STATES = 20_000
"""States spent on leaving units out of the set that forces the setups; past it a larger set is named."""
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
        solver.parameters.linearization_level = 2  # several times faster here, on the demo parts
        status = solver.solve(v.model)
        self.left = max(0.0, self.left - solver.response_proto.deterministic_time)
        return solver, status


def solve(problem: SetupProblem, time_limit: float = 20.0) -> SetupSolution:
    """The fewest setups for all units, their order, directions and holding; then the goals of rules.objective.

    `time_limit`: seconds of solver time; when they run out the best known plan is returned with the bound proven so far.
    Raises ValueError when the units' order has a cycle.
    """
    if not problem.units:
        return SetupSolution((), 0, "optimal")
    budget = Budget(time_limit)
    order = fewest_by_order(problem)
    known = along(problem, order.directions) if order.directions is not None else greedy(problem)
    for policy in _policies(problem):
        rules = (*RULES, policy)
        least, slots = _fewest(problem, rules, policy, order.lower_bound, known, budget)
        if slots is not None:
            if problem.several_setups_a_clamping:
                slots = _best(problem, (*rules, fewest_clampings), slots, budget)
            best = _best(problem, (*rules, minimise), slots, budget)
            return _finished(problem, best, rules, least, order.lower_bound, budget)
    return _finished(problem, known, (*RULES, anywhere), order.lower_bound, order.lower_bound, budget)


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
        v = _model(problem, rules, count)
        solver, status = budget.run(v, 0.4 * budget.left)
        if status in FEASIBLE:
            return bound, _read(v, solver)
        budget.ran_out |= status == cp_model.UNKNOWN
        proven = proven and status == cp_model.INFEASIBLE
        bound = count + 1 if proven else bound
    return bound, None


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
    problem: SetupProblem, slots: Slots, rules: tuple[Rule, ...], least: int, by_order: int, budget: Budget
) -> SetupSolution:
    count = len(slots)
    status = "optimal" if least >= count else "time_limit"
    core: tuple[str, ...] = ()
    if status == "optimal":
        core = force_by_order(problem, count) if count == by_order else force(problem, rules, count, budget)
    held = count > by_order and status == "optimal"
    notes = (
        (f"order alone would allow {by_order}: holding the workpiece forces {count - by_order} more",) if held else ()
    )
    return SetupSolution(slots, least, status, core, held, notes)


def force_by_order(problem: SetupProblem, count: int) -> tuple[str, ...]:
    """A smallest set of units (none can be left out) that order alone keeps from being cut in fewer setups."""
    spent = 0

    def needed(names: frozenset[str]) -> bool:
        nonlocal spent
        found = fewest_by_order(problem.only(names), stop_at=count)
        spent += found.states
        return found.lower_bound >= count

    return _reduced(problem, count, needed, lambda: spent < CORE_STATES)


def force(problem: SetupProblem, rules: tuple[Rule, ...], count: int, budget: Budget) -> tuple[str, ...]:
    """A smallest set of units (none can be left out) that all rules keep from being cut in fewer setups."""

    def needed(names: frozenset[str]) -> bool:
        _, status = budget.run(_model(problem.only(names), rules, count - 1), 0.1 * budget.left)
        return status == cp_model.INFEASIBLE

    return _reduced(problem, count, needed, lambda: budget.left > 0.1)


def _reduced(
    problem: SetupProblem, count: int, needed: Callable[[frozenset[str]], bool], go_on: Callable[[], bool]
) -> tuple[str, ...]:
    """The units after leaving out all without which as many setups are still needed: halves first, at last one by one."""
    core = [u.id for u in problem.units]
    if count <= 1:
        return tuple(core[:1])
    size = max(1, len(core) // 2)
    while True:
        for start in range(len(core) - size, -size, -size):
            fewer = core[: max(start, 0)] + core[start + size :]
            if fewer and go_on() and needed(frozenset(fewer)):
                core = fewer
        if size == 1:
            return tuple(core)
        size = max(1, min(size, len(core)) // 2)
