"""A hole's steps as cylinders to make: which are in sight of the tool, how deep each goes, what floor it ends on."""

from __future__ import annotations

from planner.bores import Bore, bores
from planner.recipes.drilling import Cylinder
from shared.features import Feature, View

SMALL_CONE = 0.02
"""Mm: levels and diameters of a hole's steps that differ by less are the same."""


def steps_of(feature: Feature, view: View) -> list[Bore]:
    """The hole's steps along the view, or one cylinder made of the view's levels where none are listed."""
    found = bores(feature, view)
    if any(s.surface == "cylinder" for s in found):
        return found
    diameter = feature.dimensions.get("diameter") or view.width or view.narrowest_gap or 0.0
    faces = tuple(feature.walls or feature.faces)
    return (
        [Bore("cylinder", diameter, diameter, diameter, None, view.top, view.bottom, faces), *found] if diameter else []
    )


def in_sight(steps: list[Bore]) -> tuple[list[Bore], list[Bore]]:
    """Steps whose whole width a tool can pass down to, and those behind something narrower."""
    seen: list[Bore] = []
    hidden: list[Bore] = []
    free = float("inf")
    for step in steps:
        (seen if step.start <= free + SMALL_CONE and step.end <= step.start + SMALL_CONE else hidden).append(step)
        free = min(free, step.start, step.end)
    return seen, hidden


def is_point(step: Bore, view: View) -> bool:
    """Whether a cone is the point of a blind hole rather than a mouth or a shoulder."""
    return not view.through and step.end <= SMALL_CONE


def cylinders_of(feature: Feature, view: View, seen: list[Bore], extra: float, every: list[Bore]) -> list[Cylinder]:
    """Cylinders in cutting order: the narrowest first, each from the level where the drill meets material.

    Every one starts at the hole's mouth, since what lies above is no wider than it or is cut later.
    """
    merged = _merged([s for s in seen if s.surface == "cylinder"])
    found = []
    for i, step in enumerate(merged):
        last = i == len(merged) - 1
        below = [s for s in every if s.top <= step.bottom + SMALL_CONE and s is not step]
        floor = _floor_of(feature, view, step, below, last)
        bottom = _bottom_level(step, below, view, floor)
        radius = (
            view.floor_radius or feature.dimensions.get("floor_radius", 0.0) if floor == "flat_with_radius" else 0.0
        )
        found.append(
            Cylinder(
                feature=feature.id,
                diameter=step.diameter,
                top=view.top,
                bottom=bottom,
                reach=view.top - bottom + extra,
                floor=floor,
                faces=step.faces,
                floor_faces=_floor_faces(feature, every, last, floor),
                start=step.top,
                floor_radius=radius or 0.0,
            )
        )
    return found[::-1]


def _merged(cylinders: list[Bore]) -> list[Bore]:
    """Cylinders of one diameter on both sides of a gap are one hole."""
    found: list[Bore] = []
    for step in cylinders:
        if found and abs(found[-1].diameter - step.diameter) < SMALL_CONE:
            before = found.pop()
            step = Bore("cylinder", step.diameter, step.diameter, step.diameter, None, before.top, step.bottom,
                        (*before.faces, *step.faces))  # fmt: skip
        found.append(step)
    return found


def _floor_of(feature: Feature, view: View, step: Bore, below: list[Bore], last: bool) -> str:
    if not last:
        narrowing = next((s for s in below if s.surface == "cone"), None)
        return "conical" if narrowing and abs(narrowing.start - step.diameter) < SMALL_CONE else "shoulder"
    wider = [s for s in below if s.diameter > step.diameter + SMALL_CONE]
    if view.through or wider:
        return "through"
    return str(view.bottom_condition or feature.bottom_condition or "flat")


def _bottom_level(step: Bore, below: list[Bore], view: View, floor: str) -> float:
    """Level that the cylinder is made down to; a floor's radius or ball lies below the cylinder's own end."""
    if floor == "through":
        return _exit_level(step, below, view)
    if floor == "spherical" and view.bottom > step.bottom - SMALL_CONE:
        return step.bottom - step.diameter / 2.0
    return min(step.bottom, view.bottom) if floor in ("spherical", "flat_with_radius") else step.bottom


def _exit_level(step: Bore, below: list[Bore], view: View) -> float:
    """Level where a through cylinder's drill leaves the material: the far side when it is as narrow all the way."""
    wider = [s for s in below if s.surface == "cylinder" and s.diameter > step.diameter + SMALL_CONE]
    return max(s.top for s in wider) if wider else min([view.bottom, step.bottom])


def _floor_faces(feature: Feature, every: list[Bore], last: bool, floor: str) -> tuple[int, ...]:
    """Faces of the floor that come with the narrowest cylinder of a blind hole."""
    if not last or floor == "through":
        return ()
    walls = {f for s in every for f in s.faces}
    cones = [f for s in every if s.surface in ("cone", "sphere", "torus") and s.end <= SMALL_CONE for f in s.faces]
    return (*[f for f in feature.bottom if f not in walls], *cones)
