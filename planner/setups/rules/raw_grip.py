"""Gripping the raw layer below the part: that layer must still be there."""

from planner.setups.jaws import eats
from planner.setups.variables import Variables


def add(v: Variables) -> None:
    """A grip mode needs an uncut rest side, and nothing that ran out over it before."""
    for m, mode in enumerate(v.problem.modes):
        if not mode.grip:
            continue
        gone = [(u.id, d) for u in v.problem.units for d in u.directions if eats(mode, u, d)]
        for k in range(v.slots):
            for j in range(k + 1):
                for cutter in v.cutters(mode.rest or "", j) + [v.cut[name, j, d] for name, d in gone]:
                    v.model.add_implication(v.mode[k, m], cutter.negated())
