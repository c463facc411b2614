"""Plane faces that no wall closes in: the block's sides, pads and bevelled planes."""
