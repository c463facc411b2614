"""Fewest setups and how the workpiece is held in each: data, unknowns, rules one a file, and the search with its proof."""

from planner.setups.data import EdgeGroup, Mode, SetupProblem, SetupSolution, Slot, Unit
from planner.setups.modes import modes_for
from planner.setups.solve import solve

__all__ = ["EdgeGroup", "Mode", "SetupProblem", "SetupSolution", "Slot", "Unit", "modes_for", "solve"]
