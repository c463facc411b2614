"""Facing: raw sides and planar faces, with the smallest face mill that is wider than the face, else parallel passes."""

from __future__ import annotations

import math

from planner.cutting import face_approach
from planner.geometry import allowance_along, area_of, part_top, side_allowance, stick_out
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.bosses import bosses_on, clear_round
from planner.recipes.build import Cut, counted, mill
from shared.features import Feature, FeaturesDocument, View
from shared.findings import Finding
from shared.plan import Levels, Passes, Tool
from shared.units import Vector

FACE_OVERLAP = 0.75
"""Largest radial step of parallel facing passes over the diameter; common practice, no source."""
DEEP = 7.5
"""Mm over a floor from which an end mill clears it in deep levels: a face mill would take more than three; common practice."""
FACE_DEPTH = 2.5
"""Mm that one facing cut takes at most, so that an allowance of 2 mm comes off in one; common practice, no source."""


def planar_face(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """Faces a planar face; on the part's outermost level the raw allowance of that side lies above it.

    Deeper in, where the view does not say how much lies above, all up to the stock's top is counted: on the safe side.
    """
    outermost = abs(part_top(view.direction, document) - view.bottom) < 0.01
    above = allowance_along(view.direction, job.allowance, document)
    if not outermost:
        above = max(part_top(view.direction, document) - view.bottom, 0.0) + above if view.depth < 0.01 else 0.0
    height = max(view.top, view.bottom + above) - view.bottom
    standing = bosses_on(view, document)
    if standing and height > 0.005:
        return clear_round(feature, view, job, document, height, standing)
    if not outermost and height > DEEP:
        deep = clear_round(feature, view, job, document, height, [])
        if deep.operations:
            return deep
    length, width = _extents(view)
    recipe = facing(
        view.bottom,
        height,
        length,
        width,
        job,
        features=[feature.id],
        faces=feature.faces,
        overhang=side_allowance(view.direction, job.allowance, document),
        largest=None if outermost else view.narrowest_gap or view.largest_cutter,
        reach=0.0 if outermost else stick_out(feature, view, document),
    )
    if not recipe.operations and recipe.unplanned is None:
        recipe.findings.append(
            Finding(
                code="nothing_to_cut",
                message=f"{feature.id}: the stock ends at this face, so there is nothing to cut",
                hint="give the stock an allowance on this side if its raw surface is not good enough",
                faces=feature.faces,
                features=[feature.id],
            )
        )
    return recipe


def _extents(view: View) -> tuple[float, float]:
    area = area_of(view)
    length = view.length or math.sqrt(area) or 1.0
    width = view.width or (area / length if area else length)
    return max(length, width), min(length, width)


def facing(
    level: float,
    allowance: float,
    length: float,
    width: float,
    job: RecipeJob,
    *,
    features: list[str] | None = None,
    faces: list[int] | None = None,
    overhang: float = 0.0,
    largest: float | None = None,
    reach: float = 0.0,
    direction: Vector | None = None,
) -> Recipe:
    """Facing of a side `length` x `width` mm down to `level`, from `level + allowance`.

    `overhang`: raw material in mm beyond the face on its sides (the mill passes over it too). `largest`: widest cutter
    that may be used, null for any. `features` may be empty for a raw side that no feature owns. `direction` is not
    needed: levels are along it. An allowance of 0 means that there is nothing to cut: no operation.
    """
    recipe = Recipe()
    if allowance <= 0.005:
        return recipe
    tool, why = _cutter(job, length, width, overhang, largest, max(reach, allowance))
    if tool is None:
        limit = f" up to {largest:.2f} mm" if largest is not None else ""
        recipe.unplanned = f"no face mill or end mill{limit} in the cutter table reaches {max(reach, allowance):.1f} mm"
        return recipe
    span = width + 2.0 * overhang
    passes = 1 if width < tool.DC else counted(span, FACE_OVERLAP * tool.DC)
    ae = min(span, tool.DC) if passes == 1 else span / passes
    step_down = min(FACE_DEPTH, tool.APMX or FACE_DEPTH)
    down = counted(allowance, step_down)
    run = length + 2.0 * overhang + 2.0 * (face_approach(tool.DC, ae) + 2.0)
    because = [
        why,
        f"{down} level(s): {allowance:g} mm at up to {step_down:g} mm a level",
        f"{passes} pass(es) over {span:g} mm" + (" including the raw rim" if overhang else ""),
        "it comes in from outside: nothing rises beside the face",
    ]
    mill(
        recipe,
        job,
        Cut(
            list(features or []),
            "face",
            "plane_rough_milling" if down > 1 else "plane_finish_milling",
            tool,
            Levels(top=level + allowance, bottom=level),
            Passes(axial_depth=allowance / down, axial_count=down, radial_depth=ae, radial_count=passes),
            "unidirectional" if passes == 1 else "bidirectional",
            "from outside at an open side",
            down * (passes * run + (passes - 1) * ae),
            because,
            faces=list(faces or []),
            reach=reach,
        ),
    )
    return recipe


def _cutter(
    job: RecipeJob, length: float, width: float, overhang: float, largest: float | None, reach: float
) -> tuple[Tool | None, str]:
    """The facing cutter and why: face mills first; the smallest that is wider than the face with its rim, else the widest."""
    cap = math.inf if largest is None else largest
    mills = [t for t in job.cutters.of("facemill") if cap + 1e-6 >= t.DC and (not reach or not t.LU or reach <= t.LU)]
    for span, text in ((width + 2.0 * overhang, "the face and the raw rim"), (width, "the face")):
        wider = [t for t in mills if span + 1e-6 < t.DC]
        if wider:
            return wider[
                0
            ], f"{wider[0].DC:g} mm face mill: the smallest that is wider than {text} ({span:g} mm), one pass"
    if mills:
        tool = mills[-1]
        return (
            tool,
            f"{tool.DC:g} mm face mill: the widest there is, narrower than the face ({width:g} mm), so parallel passes",
        )
    ends = job.cutters.mills(cap, reach)
    if not ends:
        return None, ""
    return ends[0], f"{ends[0].DC:g} mm end mill: no face mill fits in {cap:.1f} mm beside what rises there"
