"""A clamping goes on from one setup to the next only held in the same way, and only on machines that turn the part."""

from planner.setups.variables import Variables


def add(v: Variables) -> None:
    """`same[k]` makes the modes of slots k - 1 and k equal; never with three axes, never with a fixture."""
    for k, same in v.same.items():
        for m, mode in enumerate(v.problem.modes):
            v.model.add_implication(v.mode[k - 1, m], v.mode[k, m]).only_enforce_if(same)
            if mode.fixture:
                v.model.add_implication(v.mode[k, m], same.negated())
        if not v.problem.several_setups_a_clamping:
            v.model.add(same == 0)
