"""Features to plan: stock, setups, recipes, sequence, times, and the check of the result."""

from planner.pipeline import plan

__all__ = ["plan"]
