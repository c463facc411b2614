"""Each setup has exactly one direction."""

from planner.setups.variables import Variables


def add(v: Variables) -> None:
    """Exactly one direction a slot."""
    for k in range(v.slots):
        v.model.add_exactly_one(v.direction[k, d] for d in range(len(v.problem.directions)))
