"""The fewest setups, proven: the model is asked for 1, 2, 3, ... setups until one holds; what was refused is the bound.

First without the rules of holding, then with them and no fixture, then with fixtures where nothing else holds the
workpiece. One worker, a fixed seed and a limit in deterministic time: the same problem gives the same answer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from ortools.sat.python import cp_model

from planner.setups.data import SetupProblem, SetupSolution, Slot
from planner.setups.greedy import greedy
from planner.setups.rules import CUTTING, RULES
from planner.setups.rules.fixtures import anywhere, forbid, needs_fixture, where_forced
from planner.setups.rules.objective import minimise
from planner.setups.variables import Variables

Rule = Callable[[Variables], None]
EXTRA_SETUPS = 3
"""Setups above the bound of order alone that are tried before a fixture is accepted."""
SECONDARY = 1.0
"""Seconds of deterministic time for the goals after the number of setups; past it the best plan found is taken."""
FEASIBLE = (cp_model.OPTIMAL, cp_model.FEASIBLE)


class Budget:
    """Seconds of deterministic time left for the whole search."""

    def __init__(self, seconds: float) -> None:
        self.left = seconds
        self.ran_out = False

    def solver(self, share: float = 1.0) -> cp_model.CpSolver:
        """A solver that may use this share of what is left."""
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 0
        solver.parameters.max_deterministic_time = max(0.05, share * self.left)
        return solver

    def spend(self, solver: cp_model.CpSolver, status: cp_model.CpSolverStatus) -> None:
        """Takes off what the solver used."""
        self.left = max(0.0, self.left - solver.response_proto.deterministic_time)
        self.ran_out |= status == cp_model.UNKNOWN


def solve(problem: SetupProblem, time_limit: float = 20.0) -> SetupSolution:
    """The fewest setups for all units, their order, directions and holding; then the goals of rules.objective.

    `time_limit`: seconds of solver time; when they run out the best known plan is returned with the bound proven so far.
    """
    if not problem.units:
        return SetupSolution((), 0, "optimal")
    budget = Budget(time_limit)
    fallback = greedy(problem)
    bound, _ = _fewest(problem, CUTTING, 1, len(fallback), budget)
    for policy in _policies(problem):
        most = len(fallback) if policy is anywhere else bound + EXTRA_SETUPS
        rules = (*RULES, policy)
        least, found = _fewest(problem, rules, bound, most, budget)
        if found is not None:
            slots = _best(problem, rules, found, budget) or fallback
            return _finished(problem, slots, rules, least, bound, budget)
    status = "time_limit" if budget.ran_out else "feasible"
    return SetupSolution(fallback, bound, status, notes=("setups by a greedy search: the exact one ran out of time",))


def _policies(problem: SetupProblem) -> tuple[Rule, ...]:
    forced = any(needs_fixture(problem, u) for u in problem.units)
    return (where_forced, anywhere) if forced else (forbid, anywhere)


def _fewest(
    problem: SetupProblem, rules: Iterable[Rule], least: int, most: int, budget: Budget
) -> tuple[int, int | None]:
    """(proven lower bound, number of setups found feasible or None) from `least` to `most` setups."""
    proven = True
    bound = least
    for slots in range(least, most + 1):
        status, _ = _ask(problem, rules, slots, budget)
        if status in FEASIBLE:
            return bound, slots
        proven = proven and status == cp_model.INFEASIBLE
        bound = slots + 1 if proven else bound
    return bound, None


def _ask(problem: SetupProblem, rules: Iterable[Rule], slots: int, budget: Budget):  # type: ignore[no-untyped-def]
    """(status, variables) of the model with these rules and no goal."""
    v = Variables(cp_model.CpModel(), problem, slots)
    for rule in rules:
        rule(v)
    solver = budget.solver(0.5)
    status = solver.solve(v.model)
    budget.spend(solver, status)
    return status, v


def _best(problem: SetupProblem, rules: Iterable[Rule], slots: int, budget: Budget) -> tuple[Slot, ...] | None:
    """The best plan with this many setups by the secondary goals; None when time runs out before any."""
    v = Variables(cp_model.CpModel(), problem, slots)
    for rule in (*rules, minimise):
        rule(v)
    solver = budget.solver(0.5)
    solver.parameters.max_deterministic_time = min(solver.parameters.max_deterministic_time, SECONDARY)
    solver.parameters.linearization_level = 2  # seven times faster here, on the demo parts
    status = solver.solve(v.model)
    budget.spend(solver, status)
    return _read(v, solver) if status in FEASIBLE else None


def _read(v: Variables, solver: cp_model.CpSolver) -> tuple[Slot, ...]:
    out = []
    for k in range(v.slots):
        direction = next(d for d in range(len(v.problem.directions)) if solver.value(v.direction[k, d]))
        mode = next(mode for m, mode in enumerate(v.problem.modes) if solver.value(v.mode[k, m]))
        units = tuple(u.id for u in v.problem.units if any(solver.value(v.cut[u.id, k, d]) for d in u.directions))
        out.append(Slot(direction, mode, bool(k and solver.value(v.same[k])), units))
    return tuple(out)


def _finished(
    problem: SetupProblem, slots: tuple[Slot, ...], rules: tuple[Rule, ...], least: int, by_order: int, budget: Budget
) -> SetupSolution:
    count = len(slots)
    status = "optimal" if least >= count else "time_limit" if budget.ran_out else "feasible"
    forcing = CUTTING if count == by_order else rules  # a reason in the order of cutting alone is the plainer one
    core = force(problem, forcing, count, budget) if status == "optimal" else ()
    notes = []
    if count > by_order:
        notes.append(f"order alone would allow {by_order}: holding the workpiece forces {count - by_order} more")
    return SetupSolution(slots, least, status, core, count > by_order, tuple(notes))


def force(problem: SetupProblem, rules: Iterable[Rule], count: int, budget: Budget) -> tuple[str, ...]:
    """A smallest set of units (none can be left out) that cannot be cut in fewer than `count` setups."""
    if count <= 1:
        return (problem.units[0].id,)
    rules = tuple(rules)
    core = [u.id for u in problem.units]
    for name in reversed([u.id for u in problem.units]):
        fewer = frozenset(n for n in core if n != name)
        if budget.left <= 0 or not fewer:
            break
        if _ask(problem.only(fewer), rules, count - 1, budget)[0] == cp_model.INFEASIBLE:
            core.remove(name)
    return tuple(core)
