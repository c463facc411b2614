"""A side that is rested on or clamped is not cut meanwhile, and is there: raw, or cut flat in an earlier setup."""

from planner.setups.variables import Variables


def add(v: Variables) -> None:
    """No cutter of a held side in the slot; of a side that is not flat once cut, none before it either."""
    for m, mode in enumerate(v.problem.modes):
        for side in sorted(mode.sides):
            for k in range(v.slots):
                since = k if side in v.problem.flat and side not in mode.raw else 0
                for j in range(since, k + 1):
                    for cutter in v.cutters(side, j):
                        v.model.add_implication(v.mode[k, m], cutter.negated())
