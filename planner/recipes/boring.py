"""Making one cylinder of a hole: the choices between drill, drill and mill, drill and bore, circular milling.

Round, counterbore, countersunk and stepped holes are put together from these pieces.
"""

from __future__ import annotations

import math

from planner.cutting import point_length
from planner.paths import slope_length
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import APPROACH, Cut, counted, drill, mill, point, warn_slender
from planner.recipes.drilling import Cylinder, drill_below, drill_break_through, drill_down, drill_for
from planner.recipes.fine import needs_finishing, to_tolerance
from planner.recipes.practice import BREAK_THROUGH, HELIX_HOLE, ROUGH_AXIAL
from shared.cutters import LENGTH_DIAMETER_LIMIT, LENGTH_DIAMETER_WARN
from shared.findings import Finding
from shared.plan import Levels, Passes, Tool

MILL_SHARE = 0.8
"""Largest end mill over hole diameter in circular milling, so that chips and helix have room; common practice."""
SMALLEST_RIM = 0.3
"""Mm of radius that a drilled hole leaves for the end mill that makes it to size; common practice, no source."""
SERIES_STEP = 0.1 + 1e-6
"""Mm between standard drills up to 10 mm: shared/tables/cutters.csv, sizes of ISO 235."""
ROUGH_RADIAL_CIRCLE = 0.4
"""Radial step over the diameter inside a hole, where the cutter is embraced more; common practice, no source."""


def make(recipe: Recipe, job: RecipeJob, hole: Cylinder) -> bool:
    """Brings one cylinder to size and depth; False, with `unplanned` set, where no cutter of the table can.

    In order of preference: the drill of its size; an end mill in circles through what is open; a drill below its
    size and then an end mill, boring tool or, from solid, a helix.
    """
    if needs_finishing(hole):
        return to_tolerance(recipe, job, hole, _fine_tool(job, hole), make, bore)
    if hole.opened > 0.0:
        return _open_out(recipe, job, hole)
    own = drill_for(job, hole.diameter, hole.reach)
    if own is not None:
        return _with_own_drill(recipe, job, hole, own)
    return _without_drill(recipe, job, hole)


def _with_own_drill(recipe: Recipe, job: RecipeJob, hole: Cylinder, tool: Tool) -> bool:
    if hole.floor in ("through", "conical"):
        drill_down(recipe, job, hole, tool, hole.bottom, sized=True)
        return True
    full = hole.bottom + _point_room(hole, tool)
    if hole.top - full > 0.5:
        drill_down(recipe, job, hole, tool, full, sized=True)
        return _floor(recipe, job, hole, tool.DC)
    return circular(recipe, job, hole)


def _point_room(hole: Cylinder, tool: Tool) -> float:
    """How far above the floor the drill's full diameter stops, mm: its point, and the floor's radius or ball, stay clear."""
    if hole.floor == "spherical":
        return hole.diameter / 2.0
    return max(point(tool), hole.floor_radius)


def _floor(recipe: Recipe, job: RecipeJob, hole: Cylinder, drilled: float) -> bool:
    """The bottom that a drill's point leaves, with an end mill (flat), bull nose (radius) or ball end mill."""
    if hole.floor == "flat_with_radius" and not hole.floor_radius:
        recipe.unplanned = "the radius between the hole's wall and floor is not known, so its cutter cannot be chosen"
        return False
    kinds: tuple[str, ...]
    if hole.floor == "spherical":
        kinds, radius = ("ball_endmill",), math.inf
    elif hole.floor_radius:
        kinds, radius = ("bullnose_endmill", "endmill"), hole.floor_radius
    else:
        kinds, radius = ("endmill",), 0.0
    fit = job.cutters.mills(hole.diameter, hole.reach, kinds, radius)
    if not fit:
        recipe.unplanned = f"no end mill up to {hole.diameter:g} mm reaches the floor {hole.reach:.1f} mm deep"
        return False
    tool = fit[0]
    same = abs(tool.DC - hole.diameter) < 0.02
    height = min(hole.depth, max(point_length(drilled, 118.0), hole.floor_radius) + 0.1)
    if hole.floor == "spherical":
        height = min(hole.depth, hole.diameter / 2.0 + 0.1)
    warn_slender(recipe, hole.feature, tool, hole.reach)
    recipe.findings.append(
        Finding(
            code="flat_bottomed_hole",
            message=f"{hole.feature}: a drill leaves a cone, so the bottom of this {hole.diameter:g} mm hole is milled",
            hint="if the drawing allows the drill's point, say so and save a cutter",
            features=[hole.feature],
        )
    )
    because = [
        f"{tool.DC:g} mm with RE {tool.RE:g}: "
        + ("the hole's own diameter, straight down" if same else "goes round the floor"),
        f"one level over the {height:.2f} mm that the drill's point leaves",
        "down the drilled hole",
    ]
    cut = Cut(
        [hole.feature],
        "finish floor",
        "bottom_and_side_finish_milling",
        tool,
        Levels(top=hole.bottom + height, bottom=hole.bottom),
        Passes(
            axial_depth=height,
            axial_count=1,
            radial_depth=tool.DC / 2.0,
            radial_count=1 if same else counted(hole.diameter - tool.DC, tool.DC) + 1,
        ),
        "center_milling" if same else "contour_spiral",
        "down the drilled hole",
        height + APPROACH + (0.0 if same else math.pi * (hole.diameter - tool.DC) * 1.5),
        because,
        faces=list(hole.floor_faces),
        reach=hole.reach,
        slow=0.5 if same else 1.0,
    )
    mill(recipe, job, cut)
    return True


def _without_drill(recipe: Recipe, job: RecipeJob, hole: Cylinder) -> bool:
    """No drill of the size: circular milling from solid, else a smaller drill and a boring tool or reamer."""
    fit = job.cutters.mills(MILL_SHARE * hole.diameter, _mill_reach(hole), _kinds(hole), hole.floor_radius)
    pilot = drill_below(job, hole.diameter, hole.reach)
    near = _nearest_drill(job, hole)
    slender = bool(fit) and _mill_reach(hole) > LENGTH_DIAMETER_WARN * fit[0].DC
    if fit and not (slender and near):
        return circular(recipe, job, hole)
    finish = _bore_tool(job, hole) if hole.through or hole.floor == "conical" else None
    if near is not None and finish is None:
        _with_nearest_drill(recipe, job, hole, near)
        return True
    if pilot is None or finish is None:
        recipe.unplanned = (
            f"{hole.diameter:g} mm, {hole.reach:.1f} mm deep: the cutter table has no drill of that size that reaches, "
            f"no end mill up to {MILL_SHARE * hole.diameter:.1f} mm within {LENGTH_DIAMETER_LIMIT:g} diameters, "
            "and no boring tool"
        )
        return False
    drill_down(recipe, job, hole, pilot, hole.bottom, sized=False)
    bore(recipe, job, hole, finish, pilot.DC)
    return True


def _nearest_drill(job: RecipeJob, hole: Cylinder) -> Tool | None:
    """The drill of the series so near under the hole's diameter that only a tolerance tells them apart, None for none."""
    if hole.floor not in ("through", "conical"):
        return None
    need = hole.reach + drill_break_through(hole.diameter)
    found = [
        t
        for t in job.cutters.of("twist_drill")
        if hole.diameter - SERIES_STEP < t.DC < hole.diameter and (t.LU or math.inf) >= need
    ]
    return min(found, key=lambda t: (-t.DC, t.LU or 0.0, t.id)) if found else None


def _with_nearest_drill(recipe: Recipe, job: RecipeJob, hole: Cylinder, tool: Tool) -> None:
    """Drills an odd size with the nearest drill below it, and says what is missing on the diameter."""
    drill_down(recipe, job, hole, tool, hole.bottom, sized=True)
    less = hole.diameter - tool.DC
    recipe.operations[-1].because[0] = f"{tool.DC:g} mm drill: the nearest of the table under {hole.diameter:.3f} mm"
    recipe.findings.append(
        Finding(
            code="nearest_drill",
            severity="warning",
            message=f"{hole.feature}: no drill has {hole.diameter:.3f} mm; {tool.DC:g} mm leaves it {less:.3f} mm too small",
            hint="change the hole to a standard drill's size, or add a drill or reamer of this size (--tools)",
            features=[hole.feature],
        )
    )


def _bore_tool(job: RecipeJob, hole: Cylinder) -> Tool | None:
    reamers = [t for t in job.cutters.exact("reamer", hole.diameter) if (t.LU or math.inf) >= hole.reach]
    if reamers:
        return reamers[0]
    boring = job.cutters.of("boring_tool")
    fit = [t for t in boring if t.DC <= hole.diameter <= (t.DCX or t.DC) and (t.LU or math.inf) >= hole.reach]
    return fit[0] if fit else None


def _fine_tool(job: RecipeJob, hole: Cylinder) -> Tool | None:
    """What brings a hole to its tolerance: a boring tool where a reamer's lead would be in the way of a floor."""
    found = _bore_tool(job, hole)
    if found and found.kind == "reamer" and hole.floor not in ("through", "conical"):
        boring = [t for t in job.cutters.of("boring_tool") if t.DC <= hole.diameter <= (t.DCX or t.DC)]
        return next((t for t in boring if (t.LU or math.inf) >= hole.reach), found)
    return found


def bore(recipe: Recipe, job: RecipeJob, hole: Cylinder, tool: Tool, before: float) -> None:
    """Bores or reams a drilled hole to size."""
    reaming = tool.kind == "reamer"
    stock = hole.diameter - before
    past = drill_break_through(hole.diameter) / 2.0 if hole.through else 0.0
    because = [
        f"{'reamer' if reaming else 'boring tool'} for {hole.diameter:g} mm: no drill or end mill of the table makes it",
        f"one pass takes {stock:.2f} mm on diameter" + (f", {past:.1f} mm past the far face" if past else ""),
        "down the drilled hole",
    ]
    cut = Cut(
        [hole.feature],
        "ream" if reaming else "bore",
        "reaming" if reaming else "boring",
        tool,
        Levels(top=hole.top, bottom=hole.bottom, break_through=past),
        Passes(axial_depth=hole.depth + past, axial_count=1, radial_depth=stock / 2.0, radial_count=1),
        "drilling",
        "plunge_toolaxis",
        hole.depth + past + APPROACH,
        because,
        faces=[*hole.faces, *(hole.floor_faces if hole.floor == "conical" else ())],
        reach=hole.reach,
        cut_diameter=hole.diameter,
    )
    drill(recipe, job, cut)


def _mill_reach(hole: Cylinder) -> float:
    """Reach in mm that an end mill needs, break-through included."""
    return hole.reach + (BREAK_THROUGH if hole.through else 0.0)


def _kinds(hole: Cylinder) -> tuple[str, ...]:
    if hole.floor == "spherical":
        return ("ball_endmill",)
    return ("endmill", "bullnose_endmill") if hole.floor_radius else ("endmill",)


def circular(recipe: Recipe, job: RecipeJob, hole: Cylinder) -> bool:
    """Mills the cylinder in circles with a cutter smaller than it: a helix from solid, or out from an opened hole."""
    radius = math.inf if hole.floor == "spherical" else hole.floor_radius
    fit = job.cutters.mills(MILL_SHARE * hole.diameter, _mill_reach(hole), _kinds(hole), radius)
    if hole.floor_radius:
        fit = [t for t in fit if abs(t.RE - hole.floor_radius) < 0.01 and t.DC >= 0.4 * fit[0].DC] or fit
    if not fit:
        recipe.unplanned = (
            f"no end mill up to {MILL_SHARE * hole.diameter:.1f} mm reaches {hole.reach:.1f} mm within "
            f"{LENGTH_DIAMETER_LIMIT:g} diameters"
        )
        return False
    _circles(recipe, job, hole, fit[0])
    return True


def _circles(recipe: Recipe, job: RecipeJob, hole: Cylinder, tool: Tool) -> None:
    past = BREAK_THROUGH if hole.through else 0.0
    step_down = min(ROUGH_AXIAL * tool.DC, tool.APMX or math.inf)
    height = hole.depth + past
    down = counted(height, step_down)
    step_over = ROUGH_RADIAL_CIRCLE * tool.DC
    start = hole.opened or min(HELIX_HOLE * tool.DC, hole.diameter)
    solid = max((hole.diameter - start) / 2.0, SMALLEST_RIM)
    over = counted(solid, step_over)
    circles = sum(math.pi * max(hole.diameter - tool.DC - 2.0 * step_over * i, 0.0) for i in range(over))
    warn_slender(recipe, hole.feature, tool, hole.reach)
    opened = hole.opened >= tool.DC
    entry = "down the hole already made" if opened else f"plunge_helix, {job.material.ramp_deg:g} degrees"
    because = [
        f"{tool.DC:g} mm: the largest end mill up to {MILL_SHARE:g} of the {hole.diameter:g} mm it makes, so smaller than it, "
        f"that reaches {hole.reach:.1f} mm",
        f"{down} level(s) of at most {step_down:g} mm (half the diameter)"
        + (f", {past:g} mm past the bottom" if past else ""),
        f"enters through the {hole.opened:g} mm hole" if opened else "a helix needs no hole to start from",
    ]
    cut = Cut(
        [hole.feature],
        "mill shoulder" if hole.floor == "shoulder" else "mill hole",
        "bottom_and_side_finish_milling" if not hole.through else "side_finish_milling",
        tool,
        Levels(top=hole.top, bottom=hole.bottom, break_through=past),
        Passes(
            axial_depth=min(step_down, height), axial_count=down, radial_depth=min(step_over, solid), radial_count=over
        ),
        "contour_spiral",
        entry,
        down * (circles + math.pi * (hole.diameter - tool.DC))
        + (0.0 if opened else slope_length(height, job.material.ramp_deg)),
        because,
        faces=[*hole.faces, *hole.floor_faces],
        reach=hole.reach,
    )
    mill(recipe, job, cut)


def _open_out(recipe: Recipe, job: RecipeJob, hole: Cylinder) -> bool:
    """A larger cylinder over a hole that is already there: circular milling, else boring, else its own drill."""
    if job.cutters.mills(MILL_SHARE * hole.diameter, _mill_reach(hole), _kinds(hole), hole.floor_radius):
        return circular(recipe, job, hole)
    own = drill_for(job, hole.diameter, hole.reach)
    if own is not None and hole.floor in ("through", "conical"):
        drill_down(recipe, job, hole, own, hole.bottom, sized=True)
        return True
    tool = _bore_tool(job, hole)
    if tool is not None:
        bore(recipe, job, hole, tool, hole.opened)
        return True
    recipe.unplanned = (
        f"no end mill or boring tool opens {hole.opened:g} mm to {hole.diameter:g} mm, {hole.reach:.1f} mm deep"
    )
    return False
