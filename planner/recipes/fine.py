"""Holes to a tolerance: drilled under size, then reamed or bored, as the notes of the drawing ask."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.drilling import Cylinder
from shared.findings import Finding
from shared.plan import Tool

DRILLED = 11
"""Grade that a drill holds, and a cutter in circles: coarser ones ask for no more; from memory."""
MILLED = 9
CLOSEST = 6
"""Closest grade of reamers and boring tools; from memory."""
LEAD = 0.15
"""Lead of a reamer over its diameter: so much of a blind hole stays under size; common practice, no source."""

Make = Callable[[Recipe, RecipeJob, Cylinder], bool]
Bore = Callable[[Recipe, RecipeJob, Cylinder, Tool, float], None]


def needs_finishing(hole: Cylinder) -> bool:
    """Whether a drill or cutter in circles does not hold the hole's tolerance."""
    return hole.grade is not None and hole.grade < DRILLED


def stock_for(tool: Tool, diameter: float) -> tuple[float, float]:
    """Least and most mm on diameter: of a reamer 0.1 to 0.3 up to 10 mm, 0.2 to 0.4 above, of a boring tool 0.2 to 0.8;
    from memory.
    """
    if tool.kind != "reamer":
        return 0.2, 0.8
    return (0.1, 0.3) if diameter <= 10.0 else (0.2, 0.4)


def to_tolerance(recipe: Recipe, job: RecipeJob, hole: Cylinder, tool: Tool | None, make: Make, bore: Bore) -> bool:
    """Makes the cylinder under size, then reams or bores it; where no tool does, as usual, and says so."""
    plain = replace(hole, grade=None)
    if tool is None or (hole.grade or 0) < CLOSEST:
        closer = hole.grade is not None and hole.grade < CLOSEST
        why = (
            "closer than reaming or boring holds: hone or grind it"
            if closer
            else "no reamer or boring tool fits and reaches"
        )
        _say(recipe, hole, "tolerance_not_planned", f"{hole.asked}: {why}")
        if tool is None:
            return make(recipe, job, plain)
    assert tool is not None
    under, why = under_size(job, hole, tool)
    if not make(recipe, job, replace(plain, diameter=under, faces=(), leaves=(hole.diameter - under) / 2.0)):
        return False
    lead = 0.0 if hole.through or tool.kind != "reamer" else min(LEAD * hole.diameter, 0.5 * hole.depth)
    bore(recipe, job, replace(hole, bottom=hole.bottom + lead), tool, under)
    said = recipe.operations[-1].because
    said[0] = f"{'reamer' if tool.kind == 'reamer' else 'boring tool'} for {hole.diameter:g} mm: {hole.asked}"
    said.insert(1, why)
    if lead:
        _say(
            recipe,
            hole,
            "reamer_lead",
            f"the reamer's lead leaves about the last {lead:.1f} mm under size",
        )
    return True


def under_size(job: RecipeJob, hole: Cylinder, tool: Tool) -> tuple[float, str]:
    """Diameter to make before, and why: a standard drill within the reamer's stock, else in the middle of it."""
    least, most = stock_for(tool, hole.diameter)
    drills = [
        t.DC
        for t in job.cutters.of("twist_drill")
        if hole.diameter - most - 1e-6 <= t.DC <= hole.diameter - least + 1e-6
        and (t.LU or math.inf) >= hole.reach + 3.0
    ]
    wanted = hole.diameter - (least + most) / 2.0
    under = min(drills, key=lambda d: (round(abs(d - wanted), 3), -d)) if drills else wanted
    return under, f"made {under:g} mm before: it takes {least:g} to {most:g} mm on diameter at this size"


def _say(recipe: Recipe, hole: Cylinder, code: str, text: str) -> None:
    recipe.findings.append(
        Finding(code=code, severity="warning", message=f"{hole.feature}: {text}", features=[hole.feature])
    )
