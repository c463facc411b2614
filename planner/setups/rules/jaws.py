"""Jaws stay below what is cut over them: no cut of a unit that would meet them, or only while raw stock lies below."""

from ortools.sat.python import cp_model

from planner.setups.jaws import clash, eats, end_sides, unlifts
from planner.setups.variables import Variables


def add(v: Variables) -> None:
    """For each mode: clashing cuts in the slot, cuts that took away what it holds, and cuts at both ends of the jaws."""
    for m, mode in enumerate(v.problem.modes):
        if not mode.fixture:
            _no_clash(v, m)
            _not_eaten(v, m)
            _one_end(v, m)


def _no_clash(v: Variables, m: int) -> None:
    mode = v.problem.modes[m]
    gone = [(u.id, d) for u in v.problem.units for d in u.directions if mode.below and unlifts(mode, u, d)]
    for unit in v.problem.units:
        for d in (d for d in unit.directions if d in mode.directions):
            found = clash(mode, unit, d)
            for k in range(v.slots) if found != "no" else ():
                held, cut = v.mode[k, m], v.cut[unit.id, k, d]
                if found == "yes":
                    v.model.add_implication(held, cut.negated())
                elif k:
                    lifted = _lifted(v, m, k, gone)
                    v.model.add_bool_or(held.negated(), cut.negated(), lifted)


def _lifted(v: Variables, m: int, k: int, gone: list[tuple[str, int]]) -> cp_model.IntVar:
    """An unknown that is true only while nothing has taken the raw layer below away before slot k."""
    key = (m, k)
    if key not in v.lifted:
        v.lifted[key] = v.model.new_bool_var(f"raw below in slot {k} for mode {m}")
        for j in range(k):
            for name, d in gone:
                v.model.add_implication(v.lifted[key], v.cut[name, j, d].negated())
    return v.lifted[key]


def _not_eaten(v: Variables, m: int) -> None:
    mode = v.problem.modes[m]
    for unit in v.problem.units if mode.raw else ():
        for d in (d for d in unit.directions if eats(mode, unit, d)):
            for k in range(v.slots):
                for j in range(k + 1):
                    v.model.add_implication(v.mode[k, m], v.cut[unit.id, j, d].negated())


def _one_end(v: Variables, m: int) -> None:
    """Not both ends beside the jaws in one clamping, in one of its setups or in two."""
    sides = end_sides(v.problem.modes[m])
    for k in range(v.slots) if sides else ():
        for j in range(k + 1):
            goes_on = [v.same[i].negated() for i in range(j + 1, k + 1)]
            for near, far in {sides, sides[::-1]} if j < k else {sides}:  # type: ignore[index, misc]
                for a in v.cutters(near, k):
                    for b in v.cutters(far, j):
                        v.model.add_bool_or(v.mode[k, m].negated(), *goes_on, a.negated(), b.negated())
