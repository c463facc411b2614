"""Holes: cylinders and cones of one axis, chained from the mouth inwards, and what lies at their bottom."""
