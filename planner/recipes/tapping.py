"""Taps where the job names a thread; where it does not, a tap drill's size is only a hint."""

from __future__ import annotations

from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import Cut, tap
from planner.recipes.drilling import Cylinder
from shared.features import HOLE_KINDS, Feature
from shared.findings import Finding
from shared.plan import Levels, Passes
from shared.tables.load import Thread, hole_hints, run_out, thread

TAP_DRILL_SLACK = 0.3
"""Mm that a hole may differ from the tap drill before its thread is doubted; common practice, no source."""


def thread_for(feature: Feature, diameter: float, job: RecipeJob) -> str | None:
    """Thread size that the job names for this feature: by its id, else by the hole's diameter."""
    if feature.id in job.threads:
        return job.threads[feature.id]
    for key, size in job.threads.items():
        if _is_size(key, diameter):
            return size
    note = job.notes.thread(feature, diameter)
    return note.size if note else None


def unused_threads(features: list[Feature], threads: dict[str, str]) -> list[str]:
    """Keys of the job's threads that are no feature's id and no hole's diameter: nothing would be tapped for them."""
    ids = {f.id for f in features if f.kind in HOLE_KINDS}
    sizes = {s.diameter for f in features for s in f.steps if s.surface == "cylinder"}
    return [key for key in threads if key not in ids and not any(_is_size(key, size) for size in sizes)]


def _is_size(key: str, diameter: float) -> bool:
    try:
        return abs(float(key) - diameter) <= 0.011
    except ValueError:
        return False


def known_thread(feature: Feature, diameter: float, job: RecipeJob) -> Thread | None:
    """The thread that the job names for this hole, from the tables; None without one."""
    size = thread_for(feature, diameter, job)
    return thread(size) if size else None


def tap_hint(recipe: Recipe, feature: Feature, diameter: float) -> None:
    """Adds a finding where the hole has a tap drill's size: it is drilled, and the tap is the user's to ask for."""
    taps = [hint for hint in hole_hints(diameter) if hint.use == "tap_drill"]
    if not taps:
        return
    sizes = ", ".join(hint.size for hint in taps)
    recipe.findings.append(
        Finding(
            code="may_be_tapped",
            message=f"{feature.id}: {diameter:g} mm is the tap drill of {sizes}; it is drilled, not tapped",
            hint=f"if it carries a thread, name it in the job: threads {{'{diameter:g}': '{taps[0].size}'}}",
            faces=feature.faces,
            features=[feature.id],
        )
    )


def tap_hole(recipe: Recipe, job: RecipeJob, feature: Feature, hole: Cylinder) -> None:
    """Taps the hole as the job asks: through, or blind as deep as the run-out by DIN 76-2 allows."""
    size = thread_for(feature, hole.diameter, job)
    if size is None:
        tap_hint(recipe, feature, hole.diameter)
        return
    row = thread(size)
    tool = job.cutters.tap(row.size) if row else None
    problem = _problem(size, row, tool is not None, hole)
    if problem or row is None or tool is None:
        recipe.findings.append(
            Finding(
                code="thread_not_planned", severity="warning", message=f"{feature.id}: {problem}", features=[feature.id]
            )
        )
        return
    e1 = 0.0 if hole.through else run_out(row.P)
    height = hole.own_top - hole.bottom
    note = job.notes.thread(feature, hole.diameter)
    depth = height - e1
    if note and note.depth is not None and not (hole.through and note.depth >= height):
        if note.depth > depth + 0.01 and not hole.through:
            text = f"{feature.id}: {size} {note.depth:g} mm deep is asked for; {height:.1f} mm less the run-out of {e1:g} leave {depth:.1f}"
            recipe.findings.append(
                Finding(
                    code="thread_too_deep", severity="warning", message=text, hint="drill deeper", features=[feature.id]
                )
            )
        depth = min(depth, note.depth)
    if depth < row.P or (tool.LU is not None and hole.reach > tool.LU):
        message = f"{feature.id}: no room for {size}: {height:.1f} mm deep, run-out {e1:g} mm, tap reaches {tool.LU or 0:g} mm"
        recipe.findings.append(
            Finding(code="thread_not_planned", severity="warning", message=message, features=[feature.id])
        )
        return
    past = 2.0 * row.P if hole.through and depth > height - 0.01 else 0.0
    because = [
        f"{row.size} tap, pitch {row.P:g} mm (ISO 261): the job names the thread; the hole's {hole.diameter:g} mm is its "
        f"tap drill {row.drill:g} mm ({row.source})",
        f"thread {depth:.2f} mm deep; "
        + (
            f"{past:g} mm past the far face for the tap's lead"
            if past
            else f"the hole is {height - depth:g} mm deeper (DIN 76-2, e1 normal: {run_out(row.P):g} at least)"
        ),
        "straight down with the spindle in step with the feed",
    ]
    cut = Cut(
        [feature.id],
        "tap",
        "tapping",
        tool,
        Levels(top=hole.own_top, bottom=hole.own_top - depth, break_through=past),
        Passes(axial_depth=depth + past, axial_count=1, radial_depth=(row.D - hole.diameter) / 2.0, radial_count=1),
        "drilling",
        "plunge_toolaxis",
        depth + past + 2.0 * row.P,
        because,
        reach=hole.reach,
    )
    tap(recipe, job, cut, row.P)


def _problem(size: str, row: Thread | None, has_tap: bool, hole: Cylinder) -> str | None:
    if row is None:
        return f"thread {size} is in no table"
    if abs(row.drill - hole.diameter) > TAP_DRILL_SLACK:
        return f"{size} needs a tap drill of {row.drill:g} mm, the hole has {hole.diameter:g} mm"
    return None if has_tap else f"the cutter table has no tap {row.size}"
