"""Each unit is cut in exactly one setup, from a direction that it can be cut from and that the setup has."""

from planner.setups.variables import Variables


def add(v: Variables) -> None:
    """Exactly one (slot, direction) a unit; the slot has that direction."""
    for unit in v.problem.units:
        v.model.add_exactly_one(v.cut[unit.id, k, d] for k in range(v.slots) for d in unit.directions)
        for k in range(v.slots):
            for d in unit.directions:
                v.model.add_implication(v.cut[unit.id, k, d], v.direction[k, d])
