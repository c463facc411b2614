"""Gripping the raw layer below the part is for the first clamping: later that layer may be gone on the pair's sides."""

from planner.setups.variables import Variables


def add(v: Variables) -> None:
    """A grip mode needs an uncut rest side, and slot 0 or the clamping that goes on from it."""
    for m, mode in enumerate(v.problem.modes):
        if not mode.grip:
            continue
        for k in range(v.slots):
            if k:
                v.model.add_implication(v.mode[k, m], v.same[k])
            for j in range(k + 1):
                for cutter in v.cutters(mode.rest or "", j):
                    v.model.add_implication(v.mode[k, m], cutter.negated())
