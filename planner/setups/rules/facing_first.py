"""Nothing is cut from a direction through the raw layer on that side: the layer goes first."""

from planner.setups.variables import Variables


def add(v: Variables) -> None:
    """A unit cut from d waits for the unit that takes the raw layer off above it."""
    for unit in v.problem.units:
        for d, layer in sorted(unit.uncovers.items()):
            if layer != unit.id and d in unit.directions:
                for k in range(v.slots):
                    v.model.add(v.cut[unit.id, k, d] <= v.by_slot(layer, k))
