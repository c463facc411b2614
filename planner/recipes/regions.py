"""Regions without a rule of their own: rough in levels, then follow the surface with a ball end mill."""

from __future__ import annotations

import math

from planner.cutting import scallop_step
from planner.geometry import area_of, dot, part_top
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import Cut, counted, mill, warn_slender
from planner.recipes.choosing import balls, no_cutter_reason, rough_cutter
from planner.recipes.practice import CUSP, FLOOR_ALLOWANCE, ROUGH_AXIAL, ROUGH_RADIAL, SIDE_ALLOWANCE, USUAL_BALL
from planner.recipes.task import entry_of, narrowest, task_for
from planner.recipes.upright import is_upright, upright_wall
from shared.features import Feature, FeaturesDocument, View
from shared.findings import Finding
from shared.plan import Levels, Passes, Tool

OUTSIDE = "from outside at an open side"
LEVEL = 1e-3
"""Cosine below which an axis lies across a direction."""
HOLDS = 0.9
"""Share of a region's volume that must fit between a view's levels to lie there."""
CHORD = 0.01
"""Mm that a face may stay off the side that it reaches."""


def region(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """Rough in levels where there is depth, then finish with a ball end mill along the surface."""
    if is_upright(view):
        around, off = _round_it(feature, view, document)
        return upright_wall(feature, view, job, document, around, off, "mill round the outside")
    recipe = Recipe()
    view = _with_all_above(feature, view, document)
    task = task_for(feature, view, job, document)
    tool = rough_cutter(task, job)
    if tool is None:
        recipe.unplanned = no_cutter_reason(task)
        return recipe
    if view.depth > 0.5:
        outside = OUTSIDE if not task.entry_outside and runs_out(feature, view, document) else None
        rough_stairs(recipe, feature, view, job, document, tool, outside)
    surfacing(recipe, feature, view, job, task.reach, feature.faces)
    return recipe


def _with_all_above(feature: Feature, view: View, document: FeaturesDocument) -> View:
    """The view from the part's top down where more is removed over the faces than fits between the view's own levels, as
    over the slope of a gusset that stands between walls.
    """
    top = part_top(view.direction, document)
    if (view.region_area or math.inf) * view.depth > HOLDS * feature.removal_volume or top <= view.top:
        return view
    return view.model_copy(update={"top": top, "depth": top - view.bottom})


def _round_it(feature: Feature, view: View, document: FeaturesDocument) -> tuple[float, float]:
    """(mm along upright faces in plan, mm of corner that stands off them at most).

    Upright faces are as long as their area over their height. A corner that is rounded with R leaves (1 - pi/4) R^2 over
    an arc of pi R / 2, and stands off it by (sqrt 2 - 1) R: three times that on average.
    """
    area = sum(f.area for f in document.faces if f.index in feature.faces)
    if not area or view.depth <= 0.0:
        return math.pi * (view.length or view.width or view.depth), SIDE_ALLOWANCE
    return area / view.depth, max(SIDE_ALLOWANCE, 3.0 * feature.removal_volume / area)


def runs_out(feature: Feature, view: View, document: FeaturesDocument) -> bool:
    """Whether the surface reaches a side of the part's box, so that a cutter comes in there from outside."""
    part, own = document.part.frame_box, set(feature.faces)
    boxes = [f.box for f in document.faces if f.index in own and f.box is not None]
    across = [i for i, axis in enumerate(document.part.frame) if abs(dot(axis, view.direction)) < LEVEL]
    return any(box.max[i] > part.max[i] - CHORD or box.min[i] < part.min[i] + CHORD for box in boxes for i in across)


def rough_stairs(
    recipe: Recipe,
    feature: Feature,
    view: View,
    job: RecipeJob,
    document: FeaturesDocument,
    tool: Tool,
    entry: str | None = None,
) -> None:
    """Adds an end mill that takes the material over a leaning surface off level by level and leaves stairs on it.

    `entry`: how it comes in, where that is known; else found from the view's sides.
    """
    task = task_for(feature, view, job, document)
    step_down, step_over = ROUGH_AXIAL * 0.5 * tool.DC, ROUGH_RADIAL * tool.DC
    down = counted(view.depth, step_down)
    way, why_entry, entry_path = (
        (entry, "it comes in from outside: the side is open", 0.0) if entry else entry_of(task, tool, job, step_down)
    )
    because = [
        f"{tool.DC:g} mm: the largest end mill that fits and reaches {task.reach:.1f} mm",
        f"{down} level(s) of at most {step_down:g} mm (a quarter of the diameter): the stairs stay low on a sloping surface",
        why_entry,
    ]
    cut = Cut(
        [feature.id],
        "rough region" if feature.kind == "region" else f"rough {feature.kind}",
        "freeform_operation",
        tool,
        Levels(top=view.top, bottom=view.bottom),
        Passes(
            axial_depth=min(step_down, view.depth),
            axial_count=down,
            radial_depth=step_over,
            radial_count=counted(view.width or math.sqrt(task.area), step_over),
            allowance_side=SIDE_ALLOWANCE,
            allowance_bottom=FLOOR_ALLOWANCE,
        ),
        "contour_parallel",
        way,
        down * (0.5 * task.area / step_over + entry_path),
        because,
        reach=task.reach,
    )
    mill(recipe, job, cut)


def surfacing(
    recipe: Recipe,
    feature: Feature,
    view: View,
    job: RecipeJob,
    reach: float,
    faces: list[int],
    usual: float = USUAL_BALL,
    area: float | None = None,
) -> None:
    """Adds a ball end mill that follows `faces`; sets `unplanned` where none fits and reaches.

    `usual`: largest ball where nothing limits it; a narrow strip needs none that hits what stands beside it. `area`: mm2 that
    it follows, where these are not all of the view's.
    """
    radii = [r for r in (view.floor_radius, view.corner_radius) if r]
    limit = min([narrowest(view, view.largest_cutter or math.inf), *(2.0 * r for r in radii)])
    found = balls(job, limit, reach, usual)
    if not found:
        recipe.unplanned = f"no ball end mill up to {limit:.2f} mm in diameter reaches {reach:.1f} mm"
        return
    tool = found[0]
    step = scallop_step(tool.DC / 2.0, CUSP)
    plan = max(area_of(view), 1.0)
    warn_slender(recipe, feature.id, tool, reach)
    if not radii:
        recipe.findings.append(
            Finding(
                code="inner_radius_unknown",
                message=f"{feature.id}: the smallest inner radius of the surface is not known; {tool.DC:g} mm ball is a guess",
                hint="check the surface's smallest inner radius against the cutter before use",
                faces=faces,
                features=[feature.id],
            )
        )
    because = [
        f"{tool.DC:g} mm ball: of the usual size or the next that reaches, and within gap and inner radii ({limit:g} mm);"
        f" it reaches {reach:.1f} mm",
        f"passes {step:.2f} mm apart leave cusps of {CUSP:g} mm: 2 sqrt(h (2R - h))",
        "it enters along the surface from the roughed room",
    ]
    cut = Cut(
        [feature.id],
        "finish surface",
        "freeform_operation",
        tool,
        Levels(top=view.top, bottom=view.bottom),
        Passes(
            axial_depth=SIDE_ALLOWANCE,
            axial_count=1,
            radial_depth=step,
            radial_count=counted(view.width or math.sqrt(plan), step),
        ),
        "bidirectional",
        "along the surface",
        (area or _surface_area(view, plan)) / step,
        because,
        faces=faces,
        reach=reach,
    )
    mill(recipe, job, cut)


def _surface_area(view: View, plan_area: float) -> float:
    """Area to follow in mm2: the plan area, and the height of steep parts round it; an estimate."""
    return plan_area + 2.0 * (math.sqrt(plan_area) * 2.0) * view.depth * 0.5


def enclosed_void(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """No operation: nothing reaches a void inside the part."""
    return Recipe(unplanned="the void is closed all round: no cutter reaches it; split the part, cast or print it")
