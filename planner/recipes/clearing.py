"""The common way to clear a plan-view region to a level: rough, clear what the first cutter left, floor, walls.

Steps, slots, pockets, bosses and outside profiles all do this; their files say what is special about each.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from planner.cutters import LENGTH_DIAMETER_LIMIT, LENGTH_DIAMETER_WARN
from planner.geometry import area_of, room_for, side_allowance, stick_out, wall_length
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import Cut, counted, mill, warn_slender
from shared.features import Feature, FeaturesDocument, View
from shared.findings import Finding
from shared.plan import Levels, Passes, Tool

ROUGH_AXIAL = 0.5
"""Axial step of roughing over the diameter; common practice, no source."""
ROUGH_RADIAL = 0.5
"""Radial step of roughing over the diameter; common practice, no source."""
FLOOR_RADIAL = 0.6
"""Radial step of floor finishing over the diameter; common practice, no source."""
SIDE_ALLOWANCE = 0.3
"""Mm that roughing leaves on walls; common practice, no source."""
FLOOR_ALLOWANCE = 0.2
"""Mm that roughing leaves on a floor; common practice, no source."""
BREAK_THROUGH = 1.0
"""Mm that a through pocket is cut past its bottom; common practice, no source."""
CORNER_SHARE = 0.9
"""Largest cutter radius over corner radius for a finishing cutter that still turns in the corner; common practice."""
HELIX_HOLE = 1.2
"""Smallest diameter of a helix entry over the cutter's; 1.2 to 1.8 is common practice, no source."""
BULGE = 1.0 - 1.0 / math.sqrt(2.0)
"""Allowance over (floor radius - RE) at which a cutter with a smaller RE just misses the fillet: geometry at 45 deg."""
NARROW = 6.0
"""Mm: gaps up to this are cut full width where allowances would cost a fifth of the diameter; common practice."""
SMALLEST_FOR_SHARP = 3.0
"""Mm: below this no cutter is sent into sharp corners, that stay uncut whatever its size; common practice."""
WALLED = ("slot", "open_pocket", "closed_pocket")
"""Kinds whose region lies between walls: the first pass cuts full width."""
NOTHING = 0.01
"""Mm2 of plan area that is chords against arcs, not material."""


@dataclass(frozen=True)
class Task:
    """A region to clear: the figures of its view that cutters must respect, with what is missing filled in."""

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

    @property
    def entry_outside(self) -> bool:
        """Whether the cutter may come in from outside the material."""
        return self.view.open_sides > 0 or self.view.kind in ("boss", "outside_profile", "step")


def task_for(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Task:
    """The region of a view with its limits; what the view leaves open is found from its outline or its width."""
    closed = [f for side in view.sides if not side.open for f in side.faces]
    walls = sorted(set(closed)) or feature.walls
    floor = [f for f in feature.faces if f not in walls] if closed else feature.bottom
    two_walls = view.kind in ("slot", "closed_pocket")
    room = (view.width or math.inf) if two_walls else math.inf
    fit = view.largest_cutter or room
    gap = view.narrowest_gap or fit
    return Task(
        feature=feature,
        view=view,
        reach=stick_out(feature, view, document),
        fit=fit,
        gap=min(gap, fit),
        corner=view.corner_radius if view.corner_count or view.corner_radius else None,
        fillet=view.floor_radius or 0.0,
        area=area_of(view),
        walls=list(walls),
        floor=list(floor),
        through=view.through,
        side_stock=side_allowance(view.direction, job.allowance, document),
    )


def clear(task: Task, job: RecipeJob) -> Recipe:
    """Rough, rest, floor and wall operations for a region; `unplanned` where no cutter fits or reaches."""
    recipe = Recipe()
    rough = rough_cutter(task, job)
    if rough is None:
        recipe.unplanned = no_cutter_reason(task)
        return recipe
    if task.walls and any(side.draft < -0.1 for side in task.view.sides):
        recipe.findings.append(_leaning(task))
    final = finish_cutter(task, job, rough)
    _rough(recipe, task, job, rough)
    previous = rough
    for cutter in rest_chain(task, job, rough, final):
        clear_rest(recipe, task, job, cutter, previous)
        previous = cutter
    if task.corner == 0.0:
        recipe.findings.append(sharp_corner(task, final))
    if not task.through:
        _floor(recipe, task, job, final)
    if task.walls and wall_length(task.view) > 0.0:
        _walls(recipe, task, job, final)
    if task.fillet > final.RE + 0.01 and not task.through:
        _fillet(recipe, task, job, final)
    _drafted(recipe, task, job)
    return recipe


def rough_cutter(task: Task, job: RecipeJob) -> Tool | None:
    """Largest end mill that fits the region with its allowances, enters it, reaches its floor, and has RE <= floor radius.

    A cutter with the floor's own radius is preferred to a somewhat larger one without it. Where even the smallest
    cannot leave an allowance on both walls, one that just passes is taken.
    """
    kinds = ("endmill", "bullnose_endmill") if task.fillet else ("endmill",)
    limit = task.fit - 2.0 * SIDE_ALLOWANCE
    limits = [limit, task.fit] if task.entry_outside else [limit / HELIX_HOLE, limit, task.fit]
    for largest in limits:
        found = job.cutters.mills(largest, task.reach, kinds, task.fillet)
        if found:
            return _exact_instead(task, job, _matching(found, task.fillet))
    return None


def _exact_instead(task: Task, job: RecipeJob, tool: Tool) -> Tool:
    """In a narrow gap, the cutter that just fits instead of a much thinner one that leaves an allowance."""
    if task.fit > NARROW:
        return tool
    kinds = ("endmill", "bullnose_endmill") if task.fillet else ("endmill",)
    just = job.cutters.mills(task.fit, task.reach, kinds, task.fillet)
    return _matching(just, task.fillet) if just and tool.DC < 0.8 * just[0].DC else tool


def _matching(found: list[Tool], fillet: float) -> Tool:
    same = [t for t in found if fillet and abs(t.RE - fillet) <= 0.01 and t.DC >= 0.5 * found[0].DC]
    return (same or found)[0]


def finish_cutter(task: Task, job: RecipeJob, rough: Tool) -> Tool:
    """Largest cutter up to the rough one that passes the narrowest gap and turns in the smallest corner.

    Radius up to 0.9 of the corner's, else up to the corner's own; for a sharp corner a small stiff one.
    """
    kinds = ("endmill", "bullnose_endmill") if task.fillet else ("endmill",)
    if task.corner == 0.0:
        gap = min(rough.DC, task.gap if task.gap > 0.5 else math.inf)
        sizes = [t for t in job.cutters.mills(gap, task.reach, kinds, task.fillet) if t.DC >= SMALLEST_FOR_SHARP]
        stiff = [t for t in sizes if task.reach <= LENGTH_DIAMETER_WARN * t.DC]
        chosen = stiff or sizes
        if not chosen:
            return rough
        smallest = min(t.DC for t in chosen)
        return _matching([t for t in chosen if smallest == t.DC], task.fillet)
    gap = min(rough.DC, task.gap)
    corner = task.corner or math.inf
    for largest in (min(gap, 2.0 * CORNER_SHARE * corner), min(gap, 2.0 * corner)):
        found = job.cutters.mills(largest, task.reach, kinds, task.fillet)
        if found:
            return _matching(found, task.fillet)
    return rough


def rest_chain(task: Task, job: RecipeJob, rough: Tool, final: Tool) -> list[Tool]:
    """Cutters after the rough one, each at least 0.4 of the one before, down to the one that reaches the corners."""
    if final.DC >= rough.DC - 1e-6:
        return []
    left = room_for(task.view, rough.DC)
    if left is not None and left.fits and left.left_area < NOTHING and task.gap >= rough.DC:
        return []
    kinds = ("endmill", "bullnose_endmill") if task.fillet else ("endmill",)
    chain, now = [], rough
    while final.DC < 0.4 * now.DC - 1e-6:
        between = [t for t in job.cutters.mills(0.5 * now.DC, task.reach, kinds, task.fillet) if t.DC > final.DC]
        if not between:
            break
        now = between[0]
        chain.append(now)
    return [*chain, final]


def no_cutter_reason(task: Task) -> str:
    """Why no end mill can clear the region, with the figures that decide."""
    fit = "any size" if math.isinf(task.fit) else f"{task.fit:.2f} mm"
    return (
        f"no end mill of the cutter table fits ({fit} at most, edge radius up to {task.fillet:g} mm) and reaches "
        f"{task.reach:.1f} mm within {LENGTH_DIAMETER_LIMIT:g} diameters"
    )


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
    slope = max(math.tan(math.radians(angle)), 1e-3)
    if task.fit >= HELIX_HOLE * tool.DC + 2.0 * SIDE_ALLOWANCE - 1e-6:
        hole = min(1.8 * tool.DC, max(task.fit - 2.0 * SIDE_ALLOWANCE, HELIX_HOLE * tool.DC))
        text = f"plunge_helix, radius {(hole - tool.DC) / 2.0:.2f} mm, {angle:g} degrees"
        return text, f"no open side: it winds down a hole of {hole:.1f} mm, which fits", depth / slope
    text = f"plunge_ramp along the length, {angle:g} degrees"
    return text, "no open side and too narrow for a helix: it ramps to and fro along the region", depth / slope


def _rough(recipe: Recipe, task: Task, job: RecipeJob, tool: Tool) -> None:
    side, bottom = allowances(task, tool)
    levels, height = levels_of(task, min(bottom, 0.5 * task.view.depth))
    step_down = min(ROUGH_AXIAL * tool.DC, tool.APMX or math.inf)
    step_over = ROUGH_RADIAL * tool.DC
    down = counted(height, step_down)
    over = _passes_across(task, tool, step_over)
    entry, why_entry, entry_path = entry_of(task, tool, job, min(step_down, height))
    area = task.area + task.side_stock * sum(s.length for s in task.view.sides if s.open)
    full = over == 1 and task.view.kind in WALLED
    length = max(area / (tool.DC if full else step_over), task.view.length or 0.0)
    warn_slender(recipe, task.feature.id, tool, task.reach)
    past = f", {BREAK_THROUGH:g} mm past the bottom so that nothing hangs on" if task.through else ""
    because = [
        _why_cutter(task, tool),
        f"{down} level(s) of at most {step_down:g} mm (half the diameter) over {height:.2f} mm{past}",
        (f"one pass of full width, {tool.DC:g} mm" if full else f"steps {step_over:g} mm over (half the diameter)")
        + f"; leaves {side:g} mm on walls and {bottom:g} mm on the floor",
        why_entry,
    ]
    if task.fillet > tool.RE + 0.01:
        because.append(f"the allowances keep its RE {tool.RE:g} clear of the floor radius {task.fillet:g} mm")
    mill(
        recipe,
        job,
        Cut(
            [task.feature.id],
            f"rough {_word(task)}",
            "side_rough_milling" if task.through else "bottom_and_side_rough_milling",
            tool,
            levels,
            Passes(
                axial_depth=min(step_down, height),
                axial_count=down,
                radial_depth=tool.DC if full else step_over,
                radial_count=over,
                allowance_side=side,
                allowance_bottom=min(bottom, 0.5 * task.view.depth),
            ),
            "center_milling" if full else "contour_parallel",
            entry,
            down * (length + entry_path),
            because,
            reach=task.reach,
        ),
    )


def _passes_across(task: Task, tool: Tool, step_over: float) -> int:
    """Passes side by side: between two walls the first one is a full cut, beside one wall each takes a step."""
    width = task.view.width or math.sqrt(task.area)
    if task.view.kind in WALLED:
        free = max(width - tool.DC - 2.0 * SIDE_ALLOWANCE, 0.0)
        return 1 + (counted(free, step_over) if free > 0.0 else 0)
    return counted(width + task.side_stock, step_over)


def _why_cutter(task: Task, tool: Tool) -> str:
    room = "any diameter fits" if math.isinf(task.fit) else f"{task.fit:.2f} mm would just fit somewhere in the region"
    slim = (
        f"reach {task.reach:.1f} mm is {task.reach / tool.DC:.1f} times its diameter, usable length {tool.LU or 0:g} mm"
    )
    radius = f"RE {tool.RE:g} does not exceed the floor radius {task.fillet:g} mm; " if task.fillet else ""
    return f"{tool.DC:g} mm: the largest that fits with its allowance and entry ({room}); {radius}{slim}"


def _word(task: Task) -> str:
    return task.view.kind.replace("_", " ")


def clear_rest(recipe: Recipe, task: Task, job: RecipeJob, tool: Tool, before: Tool) -> None:
    """Adds the rest operation: what the cutter `before` could not reach, with a smaller one."""
    side, bottom = allowances(task, tool)
    bottom = min(bottom, 0.5 * task.view.depth)
    levels, height = levels_of(task, bottom)
    step_down = min(ROUGH_AXIAL * tool.DC, tool.APMX or math.inf)
    step_over = ROUGH_RADIAL * tool.DC
    area = _left_area(task, before)
    corners = max(task.view.corner_count, 1)
    over = counted((before.DC - tool.DC) / 2.0 * (math.sqrt(2.0) - 1.0), step_over)
    down = counted(height, step_down)
    warn_slender(recipe, task.feature.id, tool, task.reach)
    why = (
        f"corner radius {task.corner:g} mm"
        if task.corner
        else "sharp corners"
        if task.corner == 0.0
        else "narrow places"
    )
    because = [
        f"the {before.DC:g} mm cutter of the operation before leaves about {area:.1f} mm2 in plan ({why})",
        f"{tool.DC:g} mm: {_why_final(task, tool)}",
        f"{down} level(s) of at most {step_down:g} mm (half the diameter)",
        "it comes in through the room that the larger cutter has opened",
    ]
    path = down * (area / step_over + corners * 2.0 * before.DC)
    mill(
        recipe,
        job,
        Cut(
            [task.feature.id],
            f"rest rough {_word(task)}",
            "side_rough_milling" if task.through else "bottom_and_side_rough_milling",
            tool,
            levels,
            Passes(
                axial_depth=min(step_down, height),
                axial_count=down,
                radial_depth=step_over,
                radial_count=over,
                allowance_side=side,
                allowance_bottom=bottom,
            ),
            "contour_parallel",
            "from the room that the larger cutter opened",
            path,
            because,
            reach=task.reach,
        ),
    )


def _left_area(task: Task, tool: Tool) -> float:
    """Plan area in mm2 that a cutter leaves: from the outline, else (1 - pi/4)(r^2 - corner^2) in each corner."""
    room = room_for(task.view, tool.DC)
    if room is not None and room.fits:
        return room.left_area
    radius, corner = tool.DC / 2.0, task.corner or 0.0
    return max(task.view.corner_count, 1) * (1.0 - math.pi / 4.0) * max(radius**2 - corner**2, 0.0)


def _why_final(task: Task, tool: Tool) -> str:
    if task.corner == 0.0:
        return "the smallest that is stiff enough at this depth; a sharp corner takes no round cutter"
    if task.corner and 2.0 * CORNER_SHARE * task.corner + 1e-6 >= tool.DC:
        return (
            f"its radius is at most {CORNER_SHARE:g} of the corner radius {task.corner:g} mm, so it turns in the corner"
        )
    if task.corner and 2.0 * task.corner + 1e-6 >= tool.DC:
        return f"its radius is that of the corner, {task.corner:g} mm: none smaller reaches; slow down in the corner"
    gap = "" if math.isinf(task.gap) else f" of {task.gap:.2f} mm"
    return f"it passes the narrowest gap{gap}"


def _floor(recipe: Recipe, task: Task, job: RecipeJob, tool: Tool) -> None:
    bottom = min(allowances(task, recipe.operations[0].tool)[1], 0.5 * task.view.depth)
    levels = Levels(top=task.view.bottom + bottom, bottom=task.view.bottom)
    step = FLOOR_RADIAL * tool.DC
    because = [
        f"{tool.DC:g} mm with RE {tool.RE:g}: {_why_final(task, tool)}",
        f"one level takes the {bottom:g} mm that roughing left on the floor",
        "it enters above the roughed floor, in free room",
    ]
    if task.fillet > tool.RE + 0.01:
        because.append(f"it keeps {task.fillet - tool.RE:g} mm off the walls, where the floor radius begins")
    width = task.view.width or math.sqrt(task.area)
    mill(
        recipe,
        job,
        Cut(
            [task.feature.id],
            "finish floor",
            "plane_finish_milling",
            tool,
            levels,
            Passes(
                axial_depth=bottom,
                axial_count=1,
                radial_depth=step,
                radial_count=counted(width, step),
                allowance_side=0.1 if task.walls else 0.0,
            ),
            "contour_parallel",
            "from outside at an open side" if task.entry_outside else "plunge_ramp in the roughed room",
            task.area / step + tool.DC,
            because,
            faces=task.floor,
            reach=task.reach,
        ),
    )


def _walls(recipe: Recipe, task: Task, job: RecipeJob, tool: Tool) -> None:
    levels, height = levels_of(task)
    step_down = min(height, tool.APMX or height)
    down = counted(height, step_down)
    side = allowances(task, recipe.operations[0].tool)[0]
    length = wall_length(task.view)
    because = [
        f"{tool.DC:g} mm with RE {tool.RE:g}: {_why_final(task, tool)}",
        f"{down} level(s): the cutting edge is {tool.APMX or height:g} mm long, the wall {height:.2f} mm high",
        "climb milling, tangential approach from the free room",
    ]
    mill(
        recipe,
        job,
        Cut(
            [task.feature.id],
            "finish walls",
            "side_finish_milling",
            tool,
            levels,
            Passes(axial_depth=step_down, axial_count=down, radial_depth=max(side, 0.05), radial_count=1),
            "contour_parallel",
            "ap_retract_tangent in the free room",
            down * (length + tool.DC),
            because,
            faces=task.walls,
            reach=task.reach,
        ),
    )


def _fillet(recipe: Recipe, task: Task, job: RecipeJob, final: Tool) -> None:
    """A floor radius that no finishing cutter has: traced in small steps with the largest RE that does not exceed it."""
    kinds = ("bullnose_endmill", "ball_endmill")
    largest = min(final.DC, task.gap, 2.0 * task.corner if task.corner else math.inf)
    found = job.cutters.mills(largest, task.reach, kinds, task.fillet)
    if not found:
        recipe.unplanned = (
            f"floor radius {task.fillet:g} mm: no ball or bull nose cutter fits and reaches {task.reach:.1f} mm"
        )
        return
    tool = max(found, key=lambda t: (t.RE, t.DC, -(t.LU or 0.0)))
    exact = abs(tool.RE - task.fillet) <= 0.01
    count = 1 if exact else counted(0.5 * math.pi * task.fillet, 0.3)
    why = "has the floor's own radius: one pass" if exact else f"traces it in {count} passes about 0.3 mm apart"
    mill(
        recipe,
        job,
        Cut(
            [task.feature.id],
            "cut floor radius",
            "bottom_and_side_finish_milling",
            tool,
            Levels(top=min(task.view.bottom + task.fillet, task.view.top), bottom=task.view.bottom),
            Passes(axial_depth=min(task.fillet, 0.3), axial_count=count, radial_depth=0.3, radial_count=1),
            "contour_parallel",
            "ap_retract_tangent in the free room",
            count * wall_length(task.view),
            [
                f"RE {tool.RE:g} mm is not larger than the floor radius {task.fillet:g} mm and {why}",
                "levels only over the height of the radius: walls and floor are done",
                "it enters in the room already cut",
            ],
            faces=[f for f in task.feature.faces if f not in task.feature.bottom and f not in task.feature.walls],
            reach=task.reach,
        ),
    )


def _drafted(recipe: Recipe, task: Task, job: RecipeJob) -> None:
    """Walls that lean away: a ball end mill goes round them in small steps after the upright finish."""
    sides = [s for s in task.view.sides if not s.open and s.draft > 0.1]
    if not sides:
        return
    largest = min(task.gap, 10.0, 2.0 * task.corner if task.corner else math.inf)
    found = [t for t in job.cutters.mills(largest, task.reach, ("ball_endmill",), 1e9)]
    if not found:
        recipe.unplanned = f"leaning walls: no ball end mill up to {largest:.1f} mm reaches {task.reach:.1f} mm"
        return
    tool, step = found[0], 0.5
    count = counted(task.view.depth, step)
    mill(
        recipe,
        job,
        Cut(
            [task.feature.id],
            "finish leaning walls",
            "side_finish_milling",
            tool,
            Levels(top=task.view.top, bottom=task.view.bottom),
            Passes(axial_depth=step, axial_count=count, radial_depth=SIDE_ALLOWANCE, radial_count=1),
            "contour_parallel",
            "ap_retract_tangent in the free room",
            count * sum(s.length for s in sides),
            [
                f"the walls lean {max(s.draft for s in sides):.1f} degrees: a ball end mill follows them",
                f"{count} levels of {step:g} mm: small steps keep the cusps low",
                "it enters in the room already cut",
            ],
            faces=[f for s in sides for f in s.faces],
            reach=task.reach,
        ),
    )


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


def _leaning(task: Task) -> Finding:
    return Finding(
        code="overhanging_wall",
        severity="warning",
        message=f"{task.feature.id}: a wall leans over the floor; a plain cutter along this direction leaves material below it",
        hint="cut that wall from another direction or with a dovetail cutter",
        faces=task.walls,
        features=[task.feature.id],
    )
