"""Undercuts: what no plain cutter sees; the cutter family that would do is named."""
