"""Fixtures are the last resort: where no side can be rested on and no pair clamped."""

from planner.setups.data import SetupProblem, Unit
from planner.setups.jaws import clashing
from planner.setups.variables import Variables


def forbid(v: Variables) -> None:
    """No fixture, except from a direction that leaves no other way (a tilted one on a machine that cannot tilt)."""
    for m, mode in enumerate(v.problem.modes):
        if mode.fixture and has_vise(v.problem, mode.directions):
            for k in range(v.slots):
                v.model.add(v.mode[k, m] == 0)


def where_forced(v: Variables) -> None:
    """A fixture only in a setup that cuts a unit which no vise can hold, whatever else is cut there."""
    forced = [u.id for u in v.problem.units if needs_fixture(v.problem, u)]
    for m, mode in enumerate(v.problem.modes):
        if mode.fixture and has_vise(v.problem, mode.directions):
            for k in range(v.slots):
                v.model.add(v.mode[k, m] <= sum(v.in_slot(u, k) for u in forced))


def anywhere(v: Variables) -> None:
    """Fixtures wherever they help."""


def needs_fixture(problem: SetupProblem, unit: Unit) -> bool:
    """Whether the unit cuts, from each of its directions, a side that every way to hold the workpiece there needs."""
    return not any(
        d in mode.directions
        and not mode.fixture
        and not mode.sides & unit.cuts.get(d, frozenset())
        and (unit.id, d) not in clashing(problem, mode, "yes")
        for d in unit.directions
        for mode in problem.modes
    )


def has_vise(problem: SetupProblem, directions: frozenset[int]) -> bool:
    """Whether some mode other than a fixture leaves one of the directions open."""
    return any(not m.fixture and directions & m.directions for m in problem.modes)
