"""The region that a milling recipe clears: the figures of its view that cutters must respect, and how to enter it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from planner.geometry import SAME_DIRECTION, area_of, dot, side_allowance, stick_out
from planner.paths import slope_length
from planner.recipes.base import RecipeJob
from planner.recipes.practice import BREAK_THROUGH, BULGE, FLOOR_ALLOWANCE, HELIX_HOLE, REAL_GAP, SIDE_ALLOWANCE, WALLED
from shared.features import Face, Feature, FeaturesDocument, View
from shared.plan import Levels, Tool

LEAST_DRAFT = 0.1
"""Degrees from which a wall counts as leaning."""


@dataclass(frozen=True)
class Task:
    """A region to clear: the figures of its view that cutters must respect, with what is missing filled in.

    `twisted`: leaning walls meet in radii that lean with them, so that no line at one level is an offset of another's.
    """

    feature: Feature
    view: View
    reach: float
    fit: float
    gap: float
    corner: float | None
    fillet: float
    area: float
    walls: list[int]
    floor: list[int]
    through: bool
    side_stock: float
    twisted: bool = False

    @property
    def entry_outside(self) -> bool:
        """Whether the cutter may come in from outside the material."""
        return self.view.open_sides > 0 or self.view.kind in ("boss", "outside_profile", "step", "planar_face")


def task_for(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Task:
    """The region of a view with its limits; what the view leaves open is found from its outline or its width."""
    closed = [f for side in view.sides if not side.open for f in side.faces]
    walls = sorted(set(closed) | _islands(feature, view, closed)) or feature.walls
    floor = [f for f in feature.faces if f not in walls]
    if view.through and closed:  # what no side names closes a part of an open one
        standing = [f for f in floor if stands(f, view, document)]
        walls, floor = sorted({*walls, *standing}), [f for f in floor if f not in standing]
    two_walls = view.kind in ("slot", "closed_pocket")
    room = (view.width or math.inf) if two_walls else math.inf
    fit = view.largest_cutter or room
    return Task(
        feature=feature,
        view=view,
        reach=stick_out(feature, view, document) + (BREAK_THROUGH if view.through else 0.0),
        fit=fit,
        gap=narrowest(view, fit),
        corner=view.corner_radius,
        fillet=view.floor_radius or 0.0,
        area=area_of(view),
        walls=list(walls),
        floor=list(floor),
        through=view.through,
        side_stock=side_allowance(view.direction, job.allowance, document),
        twisted=any(f.surface not in ("plane", "cone") for f in _leaning(view, document)),
    )


def _leaning(view: View, document: FeaturesDocument) -> list[Face]:
    """Faces of the closed sides that lean away from the direction."""
    named = {f for s in view.sides if not s.open and s.draft > LEAST_DRAFT for f in s.faces}
    return [f for f in document.faces if f.index in named]


def stands(face: int, view: View, document: FeaturesDocument) -> bool:
    """Whether a plane face stands upright along one of the part's own axes, as far as its box and area tell.

    It is square to another axis, or a rectangle: then its area is its height times the diagonal of its box across.
    """
    found = next((f for f in document.faces if f.index == face), None)
    if found is None or found.box is None or found.surface != "plane":
        return False
    sizes = [high - low for low, high in zip(found.box.min, found.box.max, strict=True)]
    up = [abs(dot(axis, view.direction)) > SAME_DIRECTION for axis in document.part.frame]
    if sum(up) != 1:
        return False
    height, *across = sorted(zip(sizes, up, strict=True), key=lambda pair: not pair[1])
    diagonal = math.hypot(*(size for size, _ in across))
    return min(size for size, _ in across) < 1e-4 or abs(found.area - height[0] * diagonal) < 1e-3 * found.area


def _islands(feature: Feature, view: View, closed: list[int]) -> set[int]:
    """Walls of islands, which no side of the outline names: the feature's other walls, seen from where it is named."""
    if not closed or not view.islands or dot(view.direction, feature.views[0].direction) < SAME_DIRECTION:
        return set()
    return set(feature.walls) - set(feature.bottom)


def narrowest(view: View, fit: float) -> float:
    """Diameter in mm that passes everywhere, at most `fit`; a sliver of the outline is no passage and counts as unknown."""
    gap = view.narrowest_gap or fit
    return fit if gap < REAL_GAP and fit > 10.0 * gap else min(gap, fit)


def across(task: Task) -> float:
    """Width in mm that passes side by side must cover: round an island or along a bend, that of the channel."""
    width = task.view.width or math.sqrt(task.area)
    return min(width, task.fit) if task.view.kind in WALLED else width


def allowances(task: Task, tool: Tool) -> tuple[float, float]:
    """Allowance on walls and floor in mm after roughing: enough that a smaller RE misses the floor's fillet."""
    bulge = BULGE * max(task.fillet - tool.RE, 0.0)
    fits = tool.DC + 2.0 * max(SIDE_ALLOWANCE, bulge) <= task.fit + 1e-6
    side = max(SIDE_ALLOWANCE if task.walls and fits else 0.0, bulge if task.walls else 0.0)
    return round(side, 3), 0.0 if task.through else round(max(FLOOR_ALLOWANCE, bulge), 3)


def levels_of(task: Task, bottom_allowance: float = 0.0) -> tuple[Levels, float]:
    """Levels of the region and the height to cut, break-through included."""
    past = BREAK_THROUGH if task.through else 0.0
    bottom = task.view.bottom + bottom_allowance
    return Levels(top=task.view.top, bottom=bottom, break_through=past), task.view.top - bottom + past


def entry_of(task: Task, tool: Tool, job: RecipeJob, depth: float) -> tuple[str, str, float]:
    """How the cutter gets to depth: the entry, its reason, and its path length in mm a level."""
    if task.entry_outside:
        return "from outside at an open side", "it comes in from outside, where no wall rises", tool.DC
    angle = job.material.ramp_deg
    way = slope_length(depth, angle)
    if task.fit >= HELIX_HOLE * tool.DC + 2.0 * SIDE_ALLOWANCE - 1e-6:
        hole = min(1.8 * tool.DC, max(task.fit - 2.0 * SIDE_ALLOWANCE, HELIX_HOLE * tool.DC))
        text = f"plunge_helix, radius {(hole - tool.DC) / 2.0:.2f} mm, {angle:g} degrees"
        return text, f"no open side: it winds down a hole of {hole:.1f} mm, which fits", way
    text = f"plunge_ramp along the length, {angle:g} degrees"
    return text, "no open side and too narrow for a helix: it ramps to and fro along the region", way
