"""Undercuts: tee slots, dovetails, inner grooves; the cutter family is named, and planned where a cutter fits."""

from __future__ import annotations

import math
from dataclasses import dataclass

from planner.geometry import stick_out, wall_length
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import Cut, counted, mill
from shared.features import Feature, FeaturesDocument, View
from shared.plan import Levels, Passes, Tool

SAME_WIDTH = 0.02
"""Mm that a cutter may be thinner than the free width to clear it in one pass; wider ones take a pass along each wall."""


def undercut(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """A tee slot or side groove with a T-slot cutter, a dovetail with a dovetail cutter; else the family is named.

    Figures from the feature's dimensions where they are given: a tee has `width` (of its neck), `foot_width` and
    `foot_height`; a dovetail `width` (of its mouth) and `flank_angle`. Else the view's gap, width and depth.
    """
    recipe = Recipe()
    size = _size(feature, view)
    if size is None:
        recipe.unplanned = (
            "an undercut needs a T-slot or dovetail cutter chosen by hand: its neck or width is not known"
        )
        return recipe
    reach = stick_out(feature, view, document)
    closed_in = not _open_ended(feature, view)
    fit = [t for t in job.cutters.of(size.kind) if _fits(t, size, reach, closed_in)]
    bored = "neck_width" in feature.dimensions  # a groove in a hole's wall: the hole is the free middle
    if not fit:  # the middle can be roughed all the same
        if not bored and not closed_in:
            _open_neck(recipe, feature, view, job, size, reach)
        recipe.unplanned = (
            f"needs a {_words(size.kind)}{_slope(size)}: neck under {size.neck:.2f} mm, diameter up to {size.width:.2f} mm, "
            f"height up to {size.height:.2f} mm, reach {reach:.1f} mm; the cutter table has none"
        )
        return recipe
    if not bored and not _open_neck(recipe, feature, view, job, size, reach):
        return recipe
    _cut(recipe, feature, view, job, fit[-1], size)
    return recipe


@dataclass(frozen=True)
class _Size:
    """An undercut in mm: cutter kind, free width above it, largest width, height, flank angle of a dovetail."""

    kind: str
    neck: float
    width: float
    height: float
    flank: float | None


def _open_ended(feature: Feature, view: View) -> bool:
    """Whether the cutter comes in at an open end: a slot's ends are (tee and dovetail slots run right through)."""
    return view.open_sides > 0 or "foot_width" in feature.dimensions or "flank_angle" in feature.dimensions


def _size(feature: Feature, view: View) -> _Size | None:
    """Figures of the undercut from its dimensions, else from the view's gap and width."""
    given = feature.dimensions
    flank = given.get("flank_angle") or given.get("angle")
    dovetail = flank is not None and 30.0 <= flank <= 75.0
    neck = given.get("neck_width") or (given.get("width") if "foot_width" in given or dovetail else view.narrowest_gap)
    height = given.get("foot_height") or given.get("height") or view.depth
    wide = given.get("foot_width")
    if dovetail and flank and neck and height:
        wide = wide or neck + 2.0 * height / math.tan(math.radians(flank))
    wide = wide or given.get("width") or view.width
    if not neck or not wide or not height:
        return None
    return _Size("dovetail_mill" if dovetail else "t_slot_mill", neck, wide, height, flank if dovetail else None)


def _fits(tool: Tool, size: _Size, reach: float, closed_in: bool) -> bool:
    """Whether the cutter's neck passes above the undercut, its head fits in and is wide enough, and it reaches.

    In a dovetail higher than the head the neck must clear the flank above it, up to the mouth.

    One pass each side: the head, its neck against one wall, must stand out by the undercut's depth.
    """
    stem = tool.DN or tool.DC
    side = (size.width - size.neck) / 2.0
    if size.flank is not None and size.height > (tool.APMX or 0.0) + 1e-6:
        lean = size.height / math.tan(math.radians(size.flank))
        if stem / 2.0 > tool.DC / 2.0 - lean + 1e-6:
            return False
    return (
        stem < size.neck
        and size.width + 1e-6 >= tool.DC
        and (tool.APMX or 0.0) <= size.height + 1e-6
        and (tool.LU or 0.0) >= reach
        and (not closed_in or size.neck > tool.DC)
        and (tool.DC - stem) / 2.0 >= (side if size.flank is None else 0.0) - 1e-6
        and (size.flank is None or abs((tool.SIG or 0.0) - size.flank) < 1.0)
    )


def _open_neck(recipe: Recipe, feature: Feature, view: View, job: RecipeJob, size: _Size, reach: float) -> bool:
    """The free middle first, with an end mill down to the floor: the undercut cutter only widens it."""
    found = job.cutters.mills(size.neck - 0.6, reach) or job.cutters.mills(size.neck, reach)
    if not found:
        recipe.unplanned = f"no end mill up to {size.neck:.2f} mm reaches {reach:.1f} mm to open the middle"
        return False
    tool = found[0]
    step_down = min(0.5 * tool.DC, tool.APMX or tool.DC)
    over = counted(size.neck, 0.5 * tool.DC) if size.neck > tool.DC + SAME_WIDTH else 1
    down = counted(view.depth, step_down)
    length = view.length or feature.dimensions.get("length") or size.width
    because = [
        f"{tool.DC:g} mm: the largest end mill that fits the free width {size.neck:g} mm and reaches {reach:.1f} mm",
        f"{down} level(s) of at most {step_down:g} mm (half the diameter) down to the floor",
        "it comes in from the open end" if _open_ended(feature, view) else "it ramps down along the middle",
    ]
    cut = Cut(
        [feature.id],
        "rough middle",
        "bottom_and_side_rough_milling",
        tool,
        Levels(top=view.top, bottom=view.bottom),
        Passes(
            axial_depth=min(step_down, view.depth),
            axial_count=down,
            radial_depth=tool.DC if over == 1 else 0.5 * tool.DC,
            radial_count=over,
        ),
        "center_milling" if over == 1 else "contour_parallel",
        "from outside at an open side" if _open_ended(feature, view) else "plunge_ramp along the length",
        down * over * (length + tool.DC),
        because,
        reach=reach,
    )
    mill(recipe, job, cut)
    return True


def _slope(size: _Size) -> str:
    """The flank angle that the cutter must have."""
    return f" with flanks of {size.flank:.4g} degrees" if size.flank is not None else ""


def _words(kind: str) -> str:
    return {"t_slot_mill": "T-slot cutter", "dovetail_mill": "dovetail cutter"}[kind]


def _cut(recipe: Recipe, feature: Feature, view: View, job: RecipeJob, tool: Tool, size: _Size) -> None:
    neck, height = size.neck, size.height
    down = counted(height, tool.APMX or height)
    side = max((size.width - neck) / 2.0, 0.1)
    length = view.length or wall_length(view) or size.width
    because = [
        f"{tool.DC:g} mm {_words(tool.kind)}, neck {tool.DN or 0:g} mm: the largest whose neck passes {neck:g} mm",
        f"{down} level(s): the head is {tool.APMX or 0:g} mm high, the undercut {height:g} mm; both sides {side:.2f} mm deep",
        "it comes in from the open end"
        if _open_ended(feature, view)
        else "it goes down in the free middle, then sideways",
    ]
    cut = Cut(
        [feature.id],
        f"mill undercut ({_words(tool.kind)})",
        "side_finish_milling",
        tool,
        Levels(top=view.bottom + height, bottom=view.bottom),
        Passes(axial_depth=min(tool.APMX or height, height), axial_count=down, radial_depth=side, radial_count=1),
        "contour_parallel",
        "from outside at an open side" if _open_ended(feature, view) else "down in the free middle, then sideways",
        2.0 * down * (length + tool.DC),
        because,
        faces=feature.faces,
        slow=0.7,
    )
    mill(recipe, job, cut)
