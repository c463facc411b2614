"""Units: mm, degrees and minutes inside; the only conversions live here."""

from __future__ import annotations

MM_PER_INCH = 25.4
Mm = float
Vector = tuple[float, float, float]
"""A point in mm or a unit vector, in the part's own coordinates."""


def inches(mm: Mm) -> float:
    """Inches of a length in mm."""
    return mm / MM_PER_INCH


def from_inches(value: float) -> Mm:
    """Millimetres of a length in inches (1 in = 25.4 mm exactly, ISO 31-1)."""
    return value * MM_PER_INCH
