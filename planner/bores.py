"""The steps of a hole as a tool sees them: from its side inwards, levels along its direction."""

from __future__ import annotations

from dataclasses import dataclass

from planner.geometry import dot
from shared.features import Feature, View


@dataclass(frozen=True)
class Bore:
    """One step of a hole seen along a view's direction: `top` is nearer to the tool. Cones: `start` at the top."""

    surface: str
    diameter: float
    start: float
    end: float
    angle: float | None
    top: float
    bottom: float
    faces: tuple[int, ...]


def bores(feature: Feature, view: View) -> list[Bore]:
    """The hole's steps from the tool's side inwards, levels along the view's direction.

    Steps are given along the hole's axis; seen from its far end both their order and their levels turn round.
    """
    axis = feature.axis.direction if feature.axis else view.direction
    turned = dot(axis, view.direction) < 0
    steps = sorted(feature.steps, key=lambda s: (-s.top, -s.bottom, -s.diameter))
    found = []
    for i, step in enumerate(steps):
        above = steps[i - 1].end_diameter if i else None
        widens = (
            step.surface == "cone" and above is not None and abs(above - step.end_diameter) < abs(above - step.diameter)
        )
        start, end = (step.end_diameter, step.diameter) if widens else (step.diameter, step.end_diameter)
        top, bottom = step.top, step.bottom
        if turned:
            start, end, top, bottom = end, start, -bottom, -top
        found.append(Bore(step.surface, step.diameter, start, end, step.angle, top, bottom, tuple(step.faces)))
    return found[::-1] if turned else found
