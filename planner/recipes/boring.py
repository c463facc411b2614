"""Making one cylinder of a hole: the choices between drill, drill and mill, drill and bore, circular milling.

Round, counterbore, countersunk and stepped holes are put together from these pieces.
"""

from __future__ import annotations

import math
from dataclasses import replace

from planner.cutting import point_length
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import APPROACH, Cut, counted, drill, mill, point, warn_slender
from planner.recipes.circling import MILL_SHARE, circular, kinds, mill_reach
from planner.recipes.counterboring import counterbore, counterbore_for
from planner.recipes.drilling import Cylinder, drill_below, drill_break_through, drill_down, drill_for
from planner.recipes.fine import needs_finishing, to_tolerance
from shared.cutters import LENGTH_DIAMETER_LIMIT, LENGTH_DIAMETER_WARN
from shared.findings import Finding
from shared.plan import Levels, Passes, Tool

SERIES_STEP = 0.1 + 1e-6
"""Mm between standard drills up to 10 mm: shared/tables/cutters.csv, sizes of ISO 235."""


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
            allowance_side=hole.leaves,
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
    fit = job.cutters.mills(MILL_SHARE * hole.diameter, mill_reach(hole), kinds(hole), hole.floor_radius)
    pilot = drill_below(job, hole.diameter, hole.reach)
    near = _nearest_drill(job, hole)
    slender = bool(fit) and mill_reach(hole) > LENGTH_DIAMETER_WARN * fit[0].DC
    if fit and not (slender and near):
        return circular(recipe, job, hole) if hole.floor != "conical" else cone_floored(recipe, job, hole)
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


def cone_floored(recipe: Recipe, job: RecipeJob, hole: Cylinder) -> bool:
    """A blind hole with a drill's floor of a size that no drill has: the next smaller drill, then out to size in circles.

    The floor keeps that drill's smaller point, or stays flat where no drill reaches, and a finding says how much that is.
    """
    pilot = drill_below(job, hole.diameter, hole.reach)
    if pilot is not None:
        drill_down(recipe, job, hole, pilot, hole.bottom, sized=False)
    if not circular(recipe, job, replace(hole, floor_faces=(), opened=pilot.DC if pilot else 0.0)):
        return False
    own = recipe.operations[-2 if pilot else -1]
    own.faces = sorted({*own.faces, *hole.floor_faces})
    least = point_length(hole.diameter, 118.0) - (point(pilot) if pilot else 0.0)
    floor = f"keeps the point of the {pilot.DC:g} mm drill" if pilot else "stays flat"
    recipe.findings.append(
        Finding(
            code="corner_left",
            severity="warning",
            message=f"{hole.feature}: no drill has {hole.diameter:g} mm, so the floor {floor}: up to {least:.1f} mm stay in its cone",
            hint="as a rule a drill's floor serves nothing; else add a drill of this size (--tools)",
            faces=list(hole.floor_faces),
            features=[hole.feature],
        )
    )
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


def _open_out(recipe: Recipe, job: RecipeJob, hole: Cylinder) -> bool:
    """A larger cylinder over a hole that is already there: circular milling, else a counterbore, its own drill, boring.

    A counterbore also goes before an end mill that is slender at that depth.
    """
    mills = job.cutters.mills(MILL_SHARE * hole.diameter, mill_reach(hole), kinds(hole), hole.floor_radius)
    sunk = counterbore_for(job, hole)
    if sunk is not None and (not mills or mill_reach(hole) > LENGTH_DIAMETER_WARN * mills[0].DC):
        counterbore(recipe, job, hole, sunk)
        return True
    if mills:
        return circular(recipe, job, hole)
    own = drill_for(job, hole.diameter, hole.reach)
    if own is not None and hole.floor in ("through", "conical"):
        drill_down(recipe, job, hole, own, hole.bottom, sized=True)
        return True
    tool = _bore_tool(job, hole)
    if tool is not None:
        bore(recipe, job, hole, tool, hole.opened)
        return True
    recipe.unplanned = f"no end mill, counterbore or boring tool opens {hole.opened:g} mm to {hole.diameter:g} mm, {hole.reach:.1f} mm deep"
    return False
