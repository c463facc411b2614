"""Gripping the raw layer below the part: that layer must still be there."""

from planner.setups.jaws import eating
from planner.setups.variables import Variables


def add(v: Variables) -> None:
    """A grip mode needs an uncut rest side, and nothing that ran out over it before."""
    for m, mode in enumerate(v.problem.modes):
        if not mode.grip:
            continue
        gone = eating(v.problem, mode)
        for k in range(v.slots):
            v.never(v.mode[k, m], v.one_by(v.cuts_of(mode.rest or ""), k))
            v.never(v.mode[k, m], v.one_by(gone, k))
