"""Round holes: spot, drill by depth over diameter, floor, mouth chamfer, tap where the job names a thread.

All hole kinds go through `hole_recipe`: it takes the hole's cylinders and cones as seen from the tool's side.
"""

from __future__ import annotations

from dataclasses import replace

from planner.bores import Bore
from planner.cutting import point_length
from planner.geometry import room_round, stick_out
from planner.recipes.base import Recipe, RecipeJob
from planner.recipes.boring import make
from planner.recipes.circling import circular
from planner.recipes.counterboring import back_counterbore, back_tool
from planner.recipes.cylinders import SMALL_CONE, cylinders_of, in_sight, is_point, steps_of
from planner.recipes.drilling import Cylinder, drill_below, drill_for, spot
from planner.recipes.fine import needs_finishing
from planner.recipes.sinking import sink
from planner.recipes.tapping import known_thread, tap_hole
from planner.stock import dot
from shared.features import Feature, FeaturesDocument, View
from shared.findings import Finding
from shared.plan import Tool
from shared.tables.load import hole_hints

RING_MM = 0.02
"""A shoulder that is milled to this level is that ring's."""


def round_hole(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """Spot, drill (peck by depth), mill the floor where it is not a drill's, sink the mouth, tap if the job says so."""
    return hole_recipe(feature, view, job, document)


def hole_recipe(feature: Feature, view: View, job: RecipeJob, document: FeaturesDocument) -> Recipe:
    """Operations of any hole: its narrowest cylinder first, then wider ones towards the mouth, then cones, then the tap.

    Cylinders that a narrower one above them hides are not reached from this side: a finding and `unplanned` say so.
    """
    recipe = Recipe()
    steps = steps_of(feature, view)
    reach = stick_out(feature, view, document)
    extra = max(reach - (view.top - view.bottom), 0.0)
    seen, hidden = in_sight(steps)
    back = _behind(job, view, steps, hidden)  # the drill then goes right through, since the far step is still solid
    room = room_round(feature, view, document)
    cylinders = [
        replace(_as_noted(job, feature, h), room=room)
        for h in cylinders_of(feature, view, seen, extra, seen if back else steps)
    ]
    if not cylinders:
        recipe.unplanned = "the hole has no cylinder in sight from this direction"
        return recipe
    _spot(recipe, job, feature, view, seen, cylinders)
    shoulders = _shoulder_faces(feature, steps)
    opened = 0.0
    for hole in cylinders:
        if not make(recipe, job, _with(hole, opened)):
            if all(op.kind == "center_drilling" for op in recipe.operations):
                recipe.operations.clear()  # a spot alone makes no hole
            return recipe
        opened = hole.diameter
    if back:
        back_counterbore(recipe, job, feature.id, hidden.pop(), back, _free(steps, []), view.top)
    levels = {i: _level(document, i, view) for i in shoulders}
    if hidden:  # the ring over a wider step behind looks away from here
        behind = max(s.top for s in hidden)
        levels = {i: level for i, level in levels.items() if level is not None and level > behind + SMALL_CONE}
    _own_shoulders(recipe, levels, known_only=bool(hidden))
    for cone in (s for s in seen if s.surface == "cone" and not is_point(s, view)):
        if set(cone.faces) <= {f for op in recipe.operations for f in op.faces} and cone.faces:
            continue
        name = "countersink" if feature.kind == "countersunk_hole" else "chamfer mouth"
        if cone.start > cone.end and not sink(recipe, job, feature.id, cone, name):
            return recipe
    tap_hole(recipe, job, feature, cylinders[0])
    for hole in cylinders:
        _ream_hint(recipe, feature, hole)
    if hidden:
        _say_hidden(recipe, feature, hidden, min(s.start for s in seen))
    return recipe


def _behind(job: RecipeJob, view: View, steps: list[Bore], hidden: list[Bore]) -> Tool | None:
    """The tool that counterbores the far side through the hole, where that is all that is hidden; None without one."""
    if not view.through or len(hidden) != 1 or hidden[0] is not steps[-1] or hidden[0].surface != "cylinder":
        return None
    return back_tool(job, hidden[0], _free(steps, hidden), view.top)


def _free(steps: list[Bore], hidden: list[Bore]) -> float:
    """Diameter of the narrowest step in sight."""
    return min((min(s.start, s.end) for s in steps if s not in hidden), default=0.0)


def _ream_hint(recipe: Recipe, feature: Feature, hole: Cylinder) -> None:
    """Says where a hole without a tolerance has a dowel pin's diameter: whether it is reamed is the drawing's to say."""
    pins = [h for h in hole_hints(hole.diameter) if h.use == "dowel"] if hole.grade is None else []
    if pins:
        recipe.findings.append(
            Finding(
                code="may_be_reamed",
                message=f"{feature.id}: {pins[0].text}; it is not reamed",
                hint="if it is to be reamed, say so in a notes file: [[tolerance]] diameter, grade",
                faces=list(hole.faces),
                features=[feature.id],
            )
        )


def _shoulder_faces(feature: Feature, every: list[Bore]) -> list[int]:
    """Faces that are neither a step's wall nor the floor: the rings between a hole's diameters."""
    known = {f for s in every for f in s.faces} | set(feature.bottom)
    return [f for f in feature.faces if f not in known]


def _level(document: FeaturesDocument, face: int, view: View) -> float:
    """Level of the middle of a face's box: of a plane ring square to the direction, its own. Without a box, the view's top."""
    box = document.faces[face].box if face < len(document.faces) else None
    if box is None:
        return view.top
    return sum(
        (low + high) / 2 * dot(axis, view.direction)
        for low, high, axis in zip(box.min, box.max, document.part.frame, strict=True)
    )


def _own_shoulders(recipe: Recipe, rings: dict[int, float], known_only: bool) -> None:
    """Gives each ring to the operations that mill shoulders at its level; where none does, to all of them, or to the last.

    rings: level by face. known_only: leave out rings at no operation's level, since steps hidden from here have some.
    """
    if not rings or not recipe.operations:
        return
    shoulders = [op for op in recipe.operations if op.name in ("mill shoulder", "counterbore", "back counterbore")]
    for ring, level in rings.items():
        there = [op for op in shoulders if min(abs(level - op.levels.bottom), abs(level - op.levels.top)) < RING_MM]
        if known_only and shoulders and not there:
            continue
        for operation in there or shoulders or recipe.operations[-1:]:
            operation.faces = sorted({*operation.faces, ring})


def _with(hole: Cylinder, opened: float) -> Cylinder:
    return replace(hole, opened=opened)


def _as_noted(job: RecipeJob, feature: Feature, hole: Cylinder) -> Cylinder:
    """The cylinder with the tolerance that the notes ask for."""
    asked = job.notes.hole_grade(feature, hole.diameter)
    return replace(hole, grade=asked[0], asked=asked[1]) if asked else hole


def _spot(
    recipe: Recipe, job: RecipeJob, feature: Feature, view: View, seen: list[Bore], cylinders: list[Cylinder]
) -> None:
    """Spots where a drill follows; as wide as a 90 degree mouth chamfer or the named thread, which it then makes too."""
    first = cylinders[0]
    if first.floor not in ("through", "conical") and first.depth < point_length(first.diameter, 118.0) + 0.5:
        return
    own = drill_for(job, first.diameter, first.reach)
    if own is None and not needs_finishing(first) and not _needs_pilot(job, first):
        return
    if len(cylinders) == 1:
        mouth = (
            seen[0]
            if feature.kind != "countersunk_hole"
            and seen[0].surface == "cone"
            and abs((seen[0].angle or 0.0) - 90.0) < 0.6
            else None
        )
        spots = job.cutters.of("center_drill")
        deep = first.through or (mouth is not None and point_length(mouth.diameter, 90.0) <= first.depth)
        if mouth and spots and deep and mouth.diameter <= max(t.DCX or t.DC for t in spots):
            spot(recipe, job, first, mouth.diameter, mouth.faces)
            return
        row = known_thread(feature, first.diameter, job)
        if row:
            spot(recipe, job, first, row.D)
            return
    spot(recipe, job, first)


def _needs_pilot(job: RecipeJob, hole: Cylinder) -> bool:
    """Whether a hole without a drill of its size starts with a smaller drill (else it is milled from solid)."""
    if hole.floor == "conical":
        return drill_below(job, hole.diameter, hole.reach) is not None
    probe = Recipe()
    return not circular(probe, job, hole) and drill_below(job, hole.diameter, hole.reach) is not None


def _say_hidden(recipe: Recipe, feature: Feature, hidden: list[Bore], free: float) -> None:
    sizes = ", ".join(f"{s.diameter:g}" for s in hidden)
    recipe.findings.append(
        Finding(
            code="hole_step_hidden",
            severity="warning",
            message=f"{feature.id}: a step of {sizes} mm lies behind a narrower one and is not cut from this side",
            hint=f"cut it from the other side, or with a back counterbore or groove cutter whose neck passes {free:g} mm",
            faces=sorted({f for s in hidden for f in s.faces}),
            features=[feature.id],
        )
    )
    recipe.unplanned = f"a step of {sizes} mm lies behind a narrower one along this direction"
