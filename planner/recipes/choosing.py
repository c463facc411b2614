"""Which milling cutter roughs a region, which follow it, which finishes it, and why."""

from __future__ import annotations

import math

from planner.geometry import chord_bends, room_for
from planner.recipes.base import RecipeJob
from planner.recipes.practice import (
    CORNER_SHARE,
    CORNERS_ONLY,
    HELIX_HOLE,
    MOST_LEFT,
    NARROW,
    NOTHING,
    NOTICED,
    RADII_ONLY,
    SIDE_ALLOWANCE,
    SMALLEST_FOR_SHARP,
    USUAL_BALL,
    WALLED,
)
from planner.recipes.task import Task
from shared.cutters import LENGTH_DIAMETER_LIMIT, LENGTH_DIAMETER_STIFF, LENGTH_DIAMETER_WARN
from shared.plan import Tool


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
            return _exact_instead(task, job, _matching(_clearing(task, found), task.fillet))
    return None


def _clearing(task: Task, found: list[Tool]) -> list[Tool]:
    """The cutters without the largest ones that fit in some corners only, and leave most of the region to those after them."""
    for k, tool in enumerate(found if task.view.kind in WALLED else []):
        room = room_for(task.view, min(tool.DC + 2.0 * SIDE_ALLOWANCE, max(task.fit, tool.DC)))
        if room is None:
            return found
        if room.fits and room.left_area <= MOST_LEFT * task.area:
            return found[k:]
    return found


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

    Radius up to 0.9 of the corner's, else up to the corner's own; for a sharp corner a small stiff one. Where no corner is
    known and the outline says that much stays, as in letters, the largest stiff one that goes everywhere. Where none that
    turns in the corner reaches, the smallest that does: it leaves least. A gap that none passes stays shut: a stiff one.
    """
    kinds = ("endmill", "bullnose_endmill") if task.fillet else ("endmill",)
    if task.corner == 0.0:
        return next(reversed(_stiff(task, job, min(rough.DC, task.gap if task.gap > 0.5 else math.inf))), rough)
    gap = min(rough.DC, task.gap)
    corner = task.corner or math.inf
    for largest in (min(gap, 2.0 * CORNER_SHARE * corner), min(gap, 2.0 * corner)):
        found = job.cutters.mills(largest, task.reach, kinds, task.fillet)
        if found:
            final = _matching(found, task.fillet)
            return final if task.corner or left_by(task, final) < NOTICED else _into_tips(task, job, final)
    reaching = job.cutters.mills(rough.DC, task.reach, kinds, task.fillet)
    if task.view.kind in WALLED and all(
        task.gap + 0.02 < t.DC for t in reaching
    ):  # a thin cutter would leave the gap shut all the same
        reaching = [t for t in reaching if task.reach <= LENGTH_DIAMETER_WARN * t.DC] or reaching
    smallest = min((t.DC for t in reaching), default=0.0)
    return _matching([t for t in reaching if smallest == t.DC], task.fillet) if reaching else rough


def _stiff(task: Task, job: RecipeJob, largest: float) -> list[Tool]:
    """Cutters for sharp corners, largest first, one of each size: stiff ones of a size that is worth it, where there are."""
    kinds = ("endmill", "bullnose_endmill") if task.fillet else ("endmill",)
    passing = job.cutters.mills(largest, task.reach, kinds, task.fillet)
    sizes = [t for t in passing if t.DC >= SMALLEST_FOR_SHARP] or passing[:1]
    chosen = [t for t in sizes if task.reach <= LENGTH_DIAMETER_WARN * t.DC] or sizes
    return [_matching([t for t in chosen if size == t.DC], task.fillet) for size in dict.fromkeys(t.DC for t in chosen)]


def _into_tips(task: Task, job: RecipeJob, known: Tool) -> Tool:
    """The largest stiff cutter that leaves next to nothing, else the one that leaves least; the known one for no gain."""
    tools = [known, *_stiff(task, job, known.DC)]
    return next((t for t in tools if left_by(task, t) < NOTICED), min(tools, key=lambda t: left_by(task, t)))


def left_by(task: Task, tool: Tool) -> float:
    """Plan area in mm2 of a region walled all round that a cutter does not reach, chords apart; 0 for other regions."""
    closed = bool(task.walls) and task.view.kind == "closed_pocket"
    room = room_for(task.view, tool.DC) if closed else None
    if room is None or not room.fits:
        return 0.0
    return max(room.left_area - chord_bends(task.view) * tool.DC**2 / 4.0, 0.0)


def wall_cutter(task: Task, tools: list[Tool]) -> Tool:
    """The cutter that finishes the walls, of those that cleared the region, the last one being the finest.

    Where that one is there for corners alone, the largest that passes everywhere runs along the walls before it.
    """
    final = tools[-1]
    if task.fillet or any(s.draft for s in task.view.sides if not s.open):
        return final
    slender = task.reach > LENGTH_DIAMETER_STIFF * final.DC
    times = RADII_ONLY if task.corner and not slender else CORNERS_ONLY
    stiff = [t for t in tools if _passes(task, t, final) and times * final.DC <= t.DC]
    return stiff[0] if stiff else final


def _passes(task: Task, tool: Tool, final: Tool) -> bool:
    """Whether a cutter goes along every wall: through the narrowest gap, unless not even the finest one does."""
    return task.gap + 1e-6 >= tool.DC or task.gap + 0.02 < final.DC


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


def why_final(task: Task, tool: Tool) -> str:
    """Why the finishing cutter has its size."""
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


def why_cutter(task: Task, tool: Tool) -> str:
    """Why the roughing cutter has its size."""
    room = "any diameter fits" if math.isinf(task.fit) else f"{task.fit:.2f} mm would just fit somewhere in the region"
    slim = (
        f"reach {task.reach:.1f} mm is {task.reach / tool.DC:.1f} times its diameter, usable length {tool.LU or 0:g} mm"
    )
    radius = f"RE {tool.RE:g} does not exceed the floor radius {task.fillet:g} mm; " if task.fillet else ""
    return f"{tool.DC:g} mm: the largest that fits with its allowance and entry ({room}); {radius}{slim}"


def balls(job: RecipeJob, largest: float, reach: float, usual: float = USUAL_BALL) -> list[Tool]:
    """Ball end mills up to `largest` that reach, best first: up to the usual size, a larger one only for its reach."""
    found = job.cutters.mills(min(largest, usual), reach, ("ball_endmill",), math.inf)
    return found or job.cutters.mills(largest, reach, ("ball_endmill",), math.inf)[::-1]
