"""The tolerances that decide what is equal: one frozen record, passed as an argument, unit in the name."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Tolerances:
    """What counts as equal. Lengths never judge angles and angles never judge lengths."""

    length_mm: float = 0.005
    """Two lengths, levels or positions closer than this are one. A STEP file's own accuracy is 1e-3 to 1e-7 mm."""
    near_miss_mm: float = 0.05
    """Differences between `length_mm` and this are said as a finding: almost equal is often meant equal."""
    angle_deg: float = 0.05
    """Two directions closer than this are parallel."""
    smooth_deg: float = 1.0
    """An edge whose faces' normals differ by less than this is smooth (tangent), neither convex nor concave."""
    share: float = 0.02
    """A share of an area smaller than this is nothing: slivers of a projection, not material."""


DEFAULT = Tolerances()
