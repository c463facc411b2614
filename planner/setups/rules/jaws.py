"""Jaws stay below what is cut over them: no cut of a unit that would meet them, or only while raw stock lies below."""

from ortools.sat.python import cp_model

from planner.setups.jaws import clashing, eating, end_sides, unlifting
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
    always, while_raw = clashing(v.problem, mode, "yes"), clashing(v.problem, mode, "while_raw")
    for k in range(v.slots):
        held = v.mode[k, m]
        v.never(held, v.one_of(always, k))
        if k and (cut := v.one_of(while_raw, k)) is not None:
            v.model.add_bool_or(held.negated(), cut.negated(), _lifted(v, m, k))


def _lifted(v: Variables, m: int, k: int) -> cp_model.IntVar:
    """An unknown that is true only while nothing has taken the raw layer below away before slot k."""
    gone = unlifting(v.problem, v.problem.modes[m])
    lifted = v.model.new_bool_var(f"raw below in slot {k} for mode {m}")
    v.never(lifted, v.one_by(gone, k - 1))
    return lifted


def _not_eaten(v: Variables, m: int) -> None:
    mode = v.problem.modes[m]
    if mode.raw:
        for k in range(v.slots):
            v.never(v.mode[k, m], v.one_by(eating(v.problem, mode), k))


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
