"""Removal bodies: the material that each feature takes away, as solids that can be sliced, and their union's volume."""
