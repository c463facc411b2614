"""What comes before a unit only where it is cut from a direction: the raw layer on that side, and what it opens on there."""

from planner.setups.variables import Variables


def add(v: Variables) -> None:
    """A unit cut from d waits for the unit that takes the raw layer off above it, and for those at its mouth there."""
    for unit in v.problem.units:
        for d in unit.directions:
            for other in sorted(unit.waits(d) - unit.after):
                for k in range(v.slots):
                    v.model.add(v.cut[unit.id, k, d] <= v.by_slot(other, k))
