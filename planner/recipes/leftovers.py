"""What stays after the finest cutter, said in figures: sharp corners, tight radii, narrow places, leaning walls."""

from __future__ import annotations

import math

from planner.recipes.base import Recipe
from planner.recipes.choosing import left_by
from planner.recipes.task import Task
from shared.findings import Finding
from shared.plan import Tool

LEAST_SAID = 0.1
"""Mm2 of plan area from which a narrow place is said."""


def say_left(recipe: Recipe, task: Task, final: Tool) -> None:
    """Adds what the finest cutter leaves in corners and narrow places."""
    if task.corner == 0.0:
        recipe.findings.append(sharp_corner(task, final))
    if task.corner is None and left_by(task, final) > LEAST_SAID:
        recipe.findings.append(_narrow_left(task, final, left_by(task, final)))
    if task.corner and 2.0 * task.corner + 0.02 < final.DC:
        recipe.findings.append(_corner_left(task, final))
    if task.gap + 0.02 < final.DC:
        recipe.findings.append(_gap_left(task, final))


def sharp_corner(task: Task, tool: Tool) -> Finding:
    """What a round cutter leaves in sharp corners, in figures."""
    radius = tool.DC / 2.0
    area = (1.0 - math.pi / 4.0) * radius**2
    return Finding(
        code="sharp_corner",
        severity="warning",
        message=(
            f"{task.feature.id}: {max(task.view.corner_count, 1)} inner corner(s) are sharp; a round cutter leaves its radius: "
            f"{radius:g} mm after the {tool.DC:g} mm cutter, {area:.2f} mm2 a corner in plan, "
            f"{(math.sqrt(2.0) - 1.0) * radius:.2f} mm across it"
        ),
        hint="allow a corner radius, cut it from a direction along which it is not a corner, relieve it, or erode it",
        faces=task.walls,
        features=[task.feature.id],
    )


def sharp_foot(task: Task, tool: Tool) -> Finding:
    """What a ball leaves at the foot of walls that meet a leaning floor sharply."""
    return _corner(
        task,
        f"a leaning floor meets the walls sharply; the {tool.DC:g} mm ball leaves its radius of {tool.DC / 2.0:g} mm there",
        "allow a radius between floor and walls, or cut the floor from a side along which it stands upright",
    )


def _corner_left(task: Task, tool: Tool) -> Finding:
    """A corner radius that no cutter of the table reaches at this depth."""
    return _corner(
        task,
        f"corners of radius {task.corner:g} mm keep radius {tool.DC / 2.0:g} mm: no smaller cutter of the table reaches "
        f"{task.reach:.1f} mm deep",
        "allow a larger corner radius, bring a longer slender cutter (--tools), or cut it from another direction",
    )


def _narrow_left(task: Task, tool: Tool, area: float) -> Finding:
    """Narrow places of a free outline, as the tips of letters."""
    return _corner(
        task,
        f"the {tool.DC:g} mm cutter leaves about {area:.2f} mm2 in plan, where its walls come closer",
        "bring a thinner cutter (--tools), or engrave it",
    )


def _corner(task: Task, what: str, hint: str) -> Finding:
    """What stays at a task's walls, and what would help."""
    return Finding(
        code="corner_left",
        severity="warning",
        message=f"{task.feature.id}: {what}",
        hint=hint,
        faces=task.walls,
        features=[task.feature.id],
    )


def _gap_left(task: Task, tool: Tool) -> Finding:
    """A narrow place that no cutter of the table passes at this depth."""
    return Finding(
        code="gap_left",
        severity="warning",
        message=(
            f"{task.feature.id}: the narrowest gap is {task.gap:.2f} mm; the thinnest cutter that reaches "
            f"{task.reach:.1f} mm deep has {tool.DC:g} mm, so material stays there"
        ),
        hint="widen the gap, bring a longer slender cutter (--tools), or cut it from another direction",
        faces=task.walls,
        features=[task.feature.id],
    )


def leaning(task: Task) -> Finding:
    """A wall that overhangs the floor as seen from here."""
    return Finding(
        code="overhanging_wall",
        severity="warning",
        message=f"{task.feature.id}: a wall leans over the floor; a plain cutter along this direction leaves material below it",
        hint="cut that wall from another direction or with a dovetail cutter",
        faces=task.walls,
        features=[task.feature.id],
    )
