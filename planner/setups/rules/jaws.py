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
    cuts = [(u, d) for u in v.problem.units for d in u.directions if d in mode.directions]
    always = tuple((u.id, d) for u, d in cuts if clash(mode, u, d) == "yes")
    while_raw = tuple((u.id, d) for u, d in cuts if clash(mode, u, d) == "while_raw")
    for k in range(v.slots):
        held = v.mode[k, m]
        v.never(held, v.one_of(always, k))
        if k and (cut := v.one_of(while_raw, k)) is not None:
            v.model.add_bool_or(held.negated(), cut.negated(), _lifted(v, m, k))


def _lifted(v: Variables, m: int, k: int) -> cp_model.IntVar:
    """An unknown that is true only while nothing has taken the raw layer below away before slot k."""
    mode = v.problem.modes[m]
    gone = tuple((u.id, d) for u in v.problem.units for d in u.directions if mode.below and unlifts(mode, u, d))
    lifted = v.model.new_bool_var(f"raw below in slot {k} for mode {m}")
    v.never(lifted, v.one_by(gone, k - 1))
    return lifted


def _not_eaten(v: Variables, m: int) -> None:
    mode = v.problem.modes[m]
    if mode.raw:
        eaten = tuple((u.id, d) for u in v.problem.units for d in u.directions if eats(mode, u, d))
        for k in range(v.slots):
            v.never(v.mode[k, m], v.one_by(eaten, k))


def _one_end(v: Variables, m: int) -> None:
    """Not both ends beside the jaws in one clamping, in one of its setups or in two."""
    sides = end_sides(v.problem.modes[m])
    if not sides:
        return
    one, other = (v.cuts_of(side) for side in sides)
    for k in range(v.slots):
        for j in range(k + 1):
            goes_on = [v.same[i].negated() for i in range(j + 1, k + 1)]
            for near, far in ((one, other), (other, one)) if j < k else ((one, other),):
                if (a := v.one_of(near, k)) is not None and (b := v.one_of(far, j)) is not None:
                    v.model.add_bool_or(v.mode[k, m].negated(), *goes_on, a.negated(), b.negated())
