"""A side that is rested on or clamped is not cut meanwhile, and is there: raw, or cut flat in an earlier setup."""

from planner.setups.variables import Variables


def add(v: Variables) -> None:
    """No cutter of a held side in the slot; of a side that is not flat once cut, none before it either."""
    for m, mode in enumerate(v.problem.modes):
        for side in sorted(mode.sides):
            cuts = v.cuts_of(side)
            cut = v.one_of if side in v.problem.flat and side not in mode.raw else v.one_by
            for k in range(v.slots):
                v.never(v.mode[k, m], cut(cuts, k))
