"""What a unit opens on is cut before it: in an earlier setup, or in the same one (where the sequence sees to it)."""

from planner.setups.variables import Variables


def add(v: Variables) -> None:
    """By any slot, a unit is cut only if its parents are."""
    for unit in v.problem.units:
        for parent in sorted(unit.after):
            for k in range(v.slots):
                v.model.add(v.in_slot(unit.id, k) <= v.by_slot(parent, k))
