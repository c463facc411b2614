"""Why the mills of a cutter table do not fit a region: one finding a reason, by the mill that comes nearest to it."""

from __future__ import annotations

from planner.recipes.base import RecipeJob
from planner.recipes.task import Task
from shared.cutters import reaches
from shared.findings import Finding
from shared.plan import Tool


def misfits(task: Task, job: RecipeJob) -> list[Finding]:
    """Findings for what rules out every mill of the table: reach, edge radius against floor, diameter against corner and gap.

    A mill leaves a floor radius only if its edge radius RE is not larger, and goes round a corner without stopping only
    if its radius is smaller than the corner's (common practice; checks.md section 2, 'Corner rule').
    """
    mills = job.cutters.of("endmill", "bullnose_endmill")
    if not mills:
        return [_finding(task, "no_mill", "the cutter table holds no end mill", "add end mills to the table")]
    long = [t for t in mills if reaches(t, task.reach)]
    if not long:
        best = max(mills, key=lambda t: (t.LU or 0.0, t.id))
        text = f"{best.id} reaches {best.LU or 0:g} mm deep, {task.reach:.4g} mm are needed"
        return [_finding(task, "cutter_too_short", text, "a longer cutter, or one with a relieved neck")]
    return [f for f in (_edge(task, long), _corner(task, long), _gap(task, long)) if f]


def _edge(task: Task, mills: list[Tool]) -> Finding | None:
    best = min(mills, key=lambda t: (t.RE, t.id))
    if task.fillet + 1e-6 >= best.RE:
        return None
    floor = f"the floor radius is {task.fillet:g} mm" if task.fillet else "the floor meets the walls sharply"
    text = f"{best.id}: its edge radius RE {best.RE:g} mm is too large, {floor}"
    return _finding(task, "cutter_edge_radius", text, f"a cutter with RE of {task.fillet:g} mm at most")


def _corner(task: Task, mills: list[Tool]) -> Finding | None:
    best = min(mills, key=lambda t: (t.DC, t.id))
    if not task.corner or 2.0 * task.corner - 1e-6 > best.DC:
        return None
    text = f"{best.id}: its radius {best.DC / 2:g} mm is not smaller than the corner radius {task.corner:g} mm"
    return _finding(task, "cutter_diameter", text, f"a cutter of less than {2 * task.corner:g} mm diameter")


def _gap(task: Task, mills: list[Tool]) -> Finding | None:
    best = min(mills, key=lambda t: (t.DC, t.id))
    if task.fit + 1e-6 >= best.DC:
        return None
    text = f"{best.id}: {best.DC:g} mm wide, {task.fit:.4g} mm would just fit"
    return _finding(task, "cutter_too_wide", text, "a smaller cutter")


def _finding(task: Task, code: str, text: str, hint: str) -> Finding:
    message = f"{task.feature.id}: {text}"
    return Finding(code=code, severity="warning", message=message, hint=hint, features=[task.feature.id])
