"""Cones at a hole's mouth: countersinks and mouth chamfers with a cutter of their own angle."""

from __future__ import annotations

import math

from planner.bores import Bore
from planner.cutting import point_length, scallop_step
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import Cut, counted, drill, mill, one_stroke
from planner.recipes.practice import CUSP
from shared.plan import Levels, Passes, Tool


def sink_tool(job: RecipeJob, cone: Bore) -> Tool | None:
    """The smallest countersink or spot drill of the cone's angle that is as wide as its mouth and passes its small end."""
    angle = cone.angle or 90.0
    tools = [*job.cutters.of("countersink"), *job.cutters.of("center_drill")]
    fit = [
        t
        for t in tools
        if abs((t.SIG or 90.0) - angle) <= 0.6
        and (t.DCX or t.DC) >= cone.diameter - 1e-6
        and _tip(t) <= cone.end + 1e-6
    ]
    return min(fit, key=lambda t: (t.DCX or t.DC, t.kind, t.id)) if fit else None


def _tip(tool: Tool) -> float:
    """Diameter of the cutter's tip: a spot drill ends in a point, whatever its DC."""
    return 0.0 if tool.kind == "center_drill" else tool.DC


def sink(recipe: Recipe, job: RecipeJob, feature: str, cone: Bore, name: str) -> bool:
    """Sinks one cone; a cone that no countersink has is followed with a ball end mill. False, `unplanned` set, if neither.

    Levels are those of the cone; the cutter's tip stands deeper: top - (D - tip) / (2 tan(angle / 2)).
    """
    tool = sink_tool(job, cone)
    angle = cone.angle or 90.0
    if tool is None:
        return _follow(recipe, job, feature, cone, name)
    depth = point_length(cone.diameter - _tip(tool), angle)
    height = cone.top - cone.bottom
    because = [
        f"{tool.DCX or tool.DC:g} mm, {tool.SIG or 90:g} degrees: the cone's own angle, and as wide as its {cone.diameter:g} mm mouth",
        f"the cone is {height:.2f} mm high; the cutter's tip stands {depth:.2f} mm below the mouth, in the hole",
        "straight down, a short dwell at depth",
    ]
    wide = (cone.diameter - cone.end) / 2.0
    levels = Levels(top=cone.top, bottom=cone.bottom)
    cut = one_stroke(feature, name, "counter_sinking", tool, levels, wide, cone.faces, because)
    cut.cut_diameter = cone.diameter
    drill(recipe, job, cut)
    return True


def _follow(recipe: Recipe, job: RecipeJob, feature: str, cone: Bore, name: str) -> bool:
    """Circles down the cone with a ball end mill that passes its small end."""
    height = cone.top - cone.bottom
    found = job.cutters.mills(cone.end, height, ("ball_endmill",), math.inf)
    if not found:
        recipe.unplanned = (
            f"no countersink of {cone.angle or 90.0:g} degrees for a mouth of {cone.diameter:g} mm in the cutter table, "
            f"and no ball end mill up to {cone.end:g} mm"
        )
        return False
    tool = found[0]
    slant = math.hypot(height, (cone.diameter - cone.end) / 2.0)
    step = scallop_step(tool.DC / 2.0, CUSP)
    circles = counted(slant, step)
    because = [
        f"{tool.DC:g} mm ball: no countersink has {cone.angle or 90.0:.1f} degrees, so the cone is followed in circles; it "
        f"passes the small end of {cone.end:g} mm",
        f"{circles} circles {step:.2f} mm apart along the slope leave cusps of {CUSP:g} mm",
        "it enters in the hole already made",
    ]
    cut = Cut(
        [feature],
        name,
        "freeform_operation",
        tool,
        Levels(top=cone.top, bottom=cone.bottom),
        Passes(axial_depth=height / circles, axial_count=circles, radial_depth=step, radial_count=1),
        "contour_spiral",
        "down the hole already made",
        circles * math.pi * (cone.diameter + cone.end) / 2.0,
        because,
        faces=list(cone.faces),
        reach=height,
    )
    mill(recipe, job, cut)
    return True
