"""How the figures were found and how far they may be off, in the document's words."""

from __future__ import annotations

from math import cos, pi

from recognizer.access.floors import QUARTER
from recognizer.access.look import Look
from shared.reach import Accuracy

METHOD = (
    "floors by the opening of the free region with the cutter's disc, standing and leaning faces by the largest disc that "
    "touches each point of a strip and nothing else (closed forms against the part's edges, arcs and cuts), sight by the "
    "projections of faces that look away; curved faces that do not stand along the direction by facets"
)


def accuracy_of(looks: list[Look]) -> Accuracy:
    """Resolution and errors over all directions."""
    spacing = max((one.scene.spacing for one in looks), default=0.0)
    error = max((one.scene.deviation for one in looks), default=0.0)
    radius = max((one.limit for one in looks), default=0.0)
    buffers = radius * (1 - cos(pi / 4 / QUARTER))
    return Accuracy(
        method=METHOD,
        resolution_mm=spacing,
        error_mm=max(error, buffers),
        share_error=0.01 if spacing == 0 else 0.08,
    )
