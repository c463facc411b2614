"""A plan of setups without search: always the direction that cuts most of what may be cut. An upper bound, and a net."""

from __future__ import annotations

from planner.setups.data import Mode, SetupProblem, Slot, Unit


def greedy(problem: SetupProblem) -> tuple[Slot, ...]:
    """Setups in order, every unit in one of them. Raises ValueError when the units' order has a cycle."""
    left, slots, gone = list(problem.units), [], frozenset[str]()
    while left:
        direction = max(range(len(problem.directions)), key=lambda d: (len(_cuttable(problem, left, d)), -d))
        units = _cuttable(problem, left, direction)
        if not units:
            raise ValueError("the units' order has a cycle: nothing can be cut first")
        cut = frozenset(s for u in units for s in u.cuts.get(direction, frozenset()))
        slots.append(Slot(direction, _mode(problem, direction, cut | gone), False, tuple(u.id for u in units)))
        gone |= cut - problem.flat
        left = [u for u in left if u not in units]
    return tuple(slots)


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
    layer = unit.uncovers.get(direction)
    return (unit.after | ({layer} if layer else frozenset())) - {unit.id}


def _mode(problem: SetupProblem, direction: int, missing: frozenset[str]) -> Mode:
    """The first way to hold it that needs none of the missing sides; the last in the list is a fixture."""
    fit = [m for m in problem.modes if direction in m.directions and not m.grip and not m.sides & missing]
    return fit[0]
