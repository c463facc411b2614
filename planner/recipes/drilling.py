"""Drilling: spot, drill with pecks by depth over diameter, break-through; and the cylinder that hole recipes make."""

from __future__ import annotations

import math
from dataclasses import dataclass

from planner.cutting import point_length
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.build import APPROACH, Cut, counted, drill, point
from shared.findings import Finding
from shared.plan import Levels, Passes, Tool

DIRECT = 3.0
"""Depth over diameter up to which a drill goes down in one stroke; usual set, from memory."""
CHIP_BREAK = 5.0
"""Depth over diameter up to which the drill only breaks the chip; usual set, from memory."""
DEEP = 10.0
"""Depth over diameter beyond which a special drill is due; usual set, from memory."""


@dataclass(frozen=True)
class Cylinder:
    """One cylinder to make: levels along the view's direction; `reach` from the deepest mouth above it.

    `floor`: through, flat, radiused, spherical, conical (the drill's point may stay), shoulder (flat ring in a step).
    `grade`: ISO 286 grade that the notes ask for, `asked` their words. `opened`: diameter already made through it, 0 for solid. `room`: mm from its axis to the nearest wall that rises beside its mouth. `start`: level where its own wall begins, `top` by default.
    `leaves`: mm on its radius that stay for a reamer or a boring tool.
    """

    feature: str
    diameter: float
    top: float
    bottom: float
    reach: float
    floor: str
    faces: tuple[int, ...] = ()
    floor_faces: tuple[int, ...] = ()
    start: float | None = None
    opened: float = 0.0
    floor_radius: float = 0.0
    grade: int | None = None
    asked: str = ""
    room: float = math.inf
    leaves: float = 0.0

    @property
    def own_top(self) -> float:
        """Level where its own wall begins."""
        return self.top if self.start is None else self.start

    @property
    def depth(self) -> float:
        """Height in mm."""
        return self.top - self.bottom

    @property
    def through(self) -> bool:
        """Whether it breaks out at its far end."""
        return self.floor == "through"


def drill_break_through(diameter: float) -> float:
    """Mm that a through drill goes past the far face at full diameter: 0.2 D within 1 to 3; common practice, no source.

    The point's length comes on top: at 17.5 mm the drill's full diameter goes 3 mm past, its tip 5.3 mm further.
    """
    return min(3.0, max(1.0, 0.2 * diameter))


def spot(
    recipe: Recipe, job: RecipeJob, hole: Cylinder, mouth: float | None = None, faces: tuple[int, ...] = ()
) -> Tool | None:
    """Spots the hole with a 90 degree spot drill, as wide as `mouth` (the hole's diameter by default) where it can.

    A 90 degree spot is half as deep as wide: a 16 mm spot drill is full at 8 mm. Never deeper than half a blind hole.
    """
    drills = [
        t
        for t in job.cutters.of("center_drill")
        if (t.LU is None or hole.reach - hole.depth <= t.LU) and (t.DCX or t.DC) / 2.0 <= hole.room + 1e-6
    ]
    if not drills:
        recipe.findings.append(
            _note(
                "no_spot_drill",
                hole,
                "no spot drill of the cutter table reaches and fits beside the walls: not spotted",
            )
        )
        return None
    wanted = mouth or hole.diameter
    wide = [t for t in drills if (t.DCX or t.DC) >= wanted - 1e-6]
    tool = wide[0] if wide else drills[-1]
    largest = tool.DCX or tool.DC
    slope = point_length(1.0, tool.SIG or 90.0)
    width = min(wanted, largest)
    depth = width * slope
    if mouth is None and not hole.through:
        depth = min(depth, 0.5 * hole.depth)
    full = f", full at {largest * slope:g} mm depth" if width >= largest - 1e-6 else ""
    because = [
        f"{largest:g} mm spot drill of {tool.SIG or 90:g} degrees{full}: it starts the drill on its place",
        f"{depth:.2f} mm deep: {depth / slope:.2f} mm wide at the mouth for a hole of {hole.diameter:g} mm",
        "straight down: spotting is done before drilling",
    ]
    cut = Cut(
        [hole.feature],
        "spot",
        "center_drilling",
        tool,
        Levels(top=hole.top, bottom=hole.top - depth),
        Passes(axial_depth=depth, axial_count=1, radial_depth=width / 2.0, radial_count=1),
        "drilling",
        "plunge_toolaxis",
        depth + APPROACH,
        because,
        faces=list(faces),
        cut_diameter=width,
    )
    drill(recipe, job, cut)
    return tool


def drill_for(job: RecipeJob, diameter: float, reach: float) -> Tool | None:
    """The shortest drill of this diameter that reaches, None when the table has none."""
    need = reach + drill_break_through(diameter)
    return next((t for t in job.cutters.exact("twist_drill", diameter) if (t.LU or math.inf) >= need), None)


def drill_below(job: RecipeJob, diameter: float, reach: float) -> Tool | None:
    """The largest drill under this diameter that reaches, the shortest of its size."""
    fit = [t for t in job.cutters.of("twist_drill") if diameter - 0.05 > t.DC and (t.LU or math.inf) >= reach + 3.0]
    return min(fit, key=lambda t: (-t.DC, t.LU or 0.0, t.id)) if fit else None


def drill_down(recipe: Recipe, job: RecipeJob, hole: Cylinder, tool: Tool, bottom: float, *, sized: bool) -> None:
    """Drills to `bottom` (level of the full diameter), pecking by depth over diameter; through ones break out."""
    past = drill_break_through(tool.DC) if hole.through else 0.0
    depth = hole.top - bottom
    ratio = max(depth, hole.reach if hole.opened else depth) / tool.DC
    pecks, strategy, why = peck(depth + past + point(tool), tool.DC, ratio)
    tip = point(tool)
    through = (
        f"; {past:g} mm past the far face at full diameter, the {tool.SIG or 118:g} degree point {tip:.1f} mm further"
    )
    because = [
        f"{tool.DC:g} mm drill: " + ("the hole's own diameter" if sized else f"the largest that leaves stock for {hole.diameter:g} mm"),
        f"{depth:.2f} mm at full diameter" + (through if past else f"; the point reaches {tip:.1f} mm deeper"),
        why,
    ]  # fmt: skip
    if ratio > DEEP:
        recipe.findings.append(
            Finding(
                code="deep_hole",
                severity="warning",
                message=f"{hole.feature}: {depth:.1f} mm deep is {ratio:.1f} times the drill's {tool.DC:g} mm",
                hint="use a deep-hole drill with coolant through it, a pilot hole, and the maker's cycle",
                features=[hole.feature],
            )
        )
    cut = Cut(
        [hole.feature],
        "drill",
        "multistep_drilling" if pecks > 1 else "drilling",
        tool,
        Levels(top=hole.top, bottom=bottom, break_through=past),
        Passes(axial_depth=(depth + past + tip) / pecks, axial_count=pecks, radial_depth=tool.DC / 2.0, radial_count=1),
        strategy,
        "plunge_toolaxis",
        depth + past + tip + APPROACH,
        because,
        faces=[*hole.faces, *(hole.floor_faces if hole.floor == "conical" else ())] if sized else [],
        reach=hole.reach,
        retracts=pecks - 1 if strategy == "full retract" else 0,
    )
    drill(recipe, job, cut)


def peck(travel: float, diameter: float, ratio: float) -> tuple[int, str, str]:
    """Strokes, their strategy and the reason, by depth over diameter: 3 direct, 5 chip-break, 10 full retract."""
    if ratio <= DIRECT + 1e-6:
        return 1, "one stroke", f"one stroke: {ratio:.1f} diameters deep is not more than {DIRECT:g}"
    strokes = counted(travel, diameter)
    if ratio <= CHIP_BREAK + 1e-6:
        return (
            strokes,
            "chip break",
            f"{strokes} strokes with chip break: {ratio:.1f} diameters deep ({DIRECT:g} to {CHIP_BREAK:g})",
        )
    return (
        strokes,
        "full retract",
        f"{strokes} pecks with full retract: {ratio:.1f} diameters deep (more than {CHIP_BREAK:g})",
    )


def _note(code: str, hole: Cylinder, text: str) -> Finding:
    return Finding(code=code, message=f"{hole.feature}: {text}", features=[hole.feature])
