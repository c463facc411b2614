"""A plan of setups without search: always the direction that cuts most of what may be cut. An upper bound, and a net."""

from __future__ import annotations

from planner.setups.data import Mode, SetupProblem, Slot, Unit
from planner.setups.jaws import allows, both_ends


def greedy(problem: SetupProblem) -> tuple[Slot, ...]:
    """Setups in order, every unit in one of them. Raises ValueError when the units' order has a cycle."""
    left, directions = list(problem.units), []
    while left:
        direction = max(range(len(problem.directions)), key=lambda d: (len(_cuttable(problem, left, d)), -d))
        units = _cuttable(problem, left, direction)
        if not units:
            raise ValueError("the units' order has a cycle: nothing can be cut first")
        directions.append(direction)
        left = [u for u in left if u not in units]
    return along(problem, tuple(directions))


def along(problem: SetupProblem, directions: tuple[int, ...]) -> tuple[Slot, ...]:
    """The setups of a sequence of directions that cuts everything, each cutting all that it can, in few clampings."""
    left, parts = list(problem.units), []
    before: list[tuple[Unit, int]] = []
    for direction in directions:
        units = _cuttable(problem, left, direction)
        here = [(u, direction) for u in units]
        modes = [m for m in problem.modes if not m.grip and allows(problem, m, direction, here, before)]
        parts.append((direction, tuple(u.id for u in units), modes))
        before += here
        left = [u for u in left if u not in units]
    slots: list[Slot] = []
    while len(slots) < len(parts):
        slots += _clamping(problem, parts[len(slots) :])
    return tuple(slots)


Part = tuple[int, tuple[str, ...], list[Mode]]


def _clamping(problem: SetupProblem, parts: list[Part]) -> list[Slot]:
    """The setups of one clamping: as many as one way to hold the workpiece serves (the fewest clampings, greedily)."""
    by_id = {u.id: u for u in problem.units}
    modes = parts[0][2]
    run = 1
    while run < len(parts) and problem.several_setups_a_clamping:
        here = [(by_id[name], d) for d, names, _ in parts[: run + 1] for name in names]
        common = [m for m in modes if m in parts[run][2] and not m.fixture and not both_ends(m, here)]
        if not common:
            break
        modes, run = common, run + 1
    return [Slot(d, modes[0], k > 0, units) for k, (d, units, _) in enumerate(parts[:run])]


def _cuttable(problem: SetupProblem, left: list[Unit], direction: int) -> list[Unit]:
    """Units that one setup from this direction can cut, in an order that keeps precedence."""
    waiting, found = {u.id for u in left}, []
    grew = True
    while grew:
        grew = False
        for unit in left:
            if unit.id in waiting and direction in unit.directions and not _needs(unit, direction) & waiting:
                waiting.discard(unit.id)
                found.append(unit)
                grew = True
    return found


def _needs(unit: Unit, direction: int) -> frozenset[str]:
    return unit.waits(direction)
