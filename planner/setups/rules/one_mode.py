"""Each setup is held in one way that leaves its direction open."""

from planner.setups.variables import Variables


def add(v: Variables) -> None:
    """Exactly one mode a slot; the slot's direction is among those the mode leaves open."""
    for k in range(v.slots):
        v.model.add_exactly_one(v.mode[k, m] for m in range(len(v.problem.modes)))
        for m, mode in enumerate(v.problem.modes):
            v.model.add_bool_or(v.direction[k, d] for d in sorted(mode.directions)).only_enforce_if(v.mode[k, m])
