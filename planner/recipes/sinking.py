"""Cones at a hole's mouth: countersinks and mouth chamfers with a cutter of their own angle."""

from __future__ import annotations

from planner.cutting import point_length
from planner.geometry import Bore
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import APPROACH, Cut, drill
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
    """Sinks one cone; False with `unplanned` set where no cutter has its angle and width.

    Levels are those of the cone; the cutter's tip stands deeper: top - (D - tip) / (2 tan(angle / 2)).
    """
    tool = sink_tool(job, cone)
    angle = cone.angle or 90.0
    if tool is None:
        recipe.unplanned = (
            f"no countersink of {angle:g} degrees for a mouth of {cone.diameter:g} mm in the cutter table"
        )
        return False
    depth = point_length(cone.diameter - _tip(tool), angle)
    height = cone.top - cone.bottom
    because = [
        f"{tool.DCX or tool.DC:g} mm, {tool.SIG or 90:g} degrees: the cone's own angle, and as wide as its {cone.diameter:g} mm mouth",
        f"the cone is {height:.2f} mm high; the cutter's tip stands {depth:.2f} mm below the mouth, in the hole",
        "straight down, a short dwell at depth",
    ]
    cut = Cut(
        [feature],
        name,
        "counter_sinking",
        tool,
        Levels(top=cone.top, bottom=cone.bottom),
        Passes(axial_depth=height, axial_count=1, radial_depth=(cone.diameter - cone.end) / 2.0, radial_count=1),
        "drilling",
        "plunge_toolaxis",
        height + APPROACH,
        because,
        faces=list(cone.faces),
        cut_diameter=cone.diameter,
    )
    drill(recipe, job, cut)
    return True
