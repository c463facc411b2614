"""Undercuts: hollows behind a mouth that is narrower than they are. Which cutter family does it, and what it must measure.

A tee or dovetail slot from its mouth's width, foot and flank; a groove or a back counterbore in a hole from the hole's steps:
the head must pass the mouth and its neck must leave room for the depth of the undercut on one side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import radians, tan

from recognizer.access.cutters import usable_length
from recognizer.vector import dot
from shared.cutters import CutterTable
from shared.features import Feature, FeaturesDocument, HoleStep
from shared.plan import Tool
from shared.reach import Direction, FaceReach, ReachLimits, Undercut
from shared.units import Vector

NAMES = {
    "t_slot_mill": "tee-slot cutter",
    "dovetail_mill": "dovetail cutter",
    "backside_counterbore": "back counterbore",
}
SLACK_MM = 1e-3


@dataclass(frozen=True)
class Hollow:
    """An undercut seen through its mouth, mm: how wide the mouth, the hollow behind it, heights and flank in degrees."""

    family: str
    direction: Vector
    mouth: float
    width: float
    height: float
    depth: float
    lid: float
    flank: float | None = None
    through_mouth: bool = False
    """The head must pass the mouth: there is no open end to come in from."""

    @property
    def side(self) -> float:
        """How far it goes in behind the mouth on each side."""
        return (self.width - self.mouth) / 2

    @property
    def head(self) -> float:
        """Least cutting diameter: from a neck of no thickness at one wall; of a dovetail twice the flank's run."""
        return 2 * self.side

    @property
    def neck(self) -> float:
        """Largest neck: it passes the mouth, and where the head passes too it leaves the side free."""
        return max(0.0, self.mouth - 2 * self.side) if self.through_mouth else self.mouth


def undercuts_of(
    features: FeaturesDocument,
    faces: list[FaceReach],
    directions: Sequence[Direction],
    table: CutterTable,
    limits: ReachLimits,
) -> tuple[list[Undercut], list[FaceReach]]:
    """Undercuts, and the faces with those counted as reached that a cutter of the file does."""
    found: list[Undercut] = []
    faces = list(faces)
    for feature in features.features:
        left = [i for i in feature.faces if faces[i].verdict == "not_reached"]
        for hollow in hollows_of(feature, left) if left else ():
            side = next((k for k, d in enumerate(directions) if dot(d.vector, hollow.direction) > 1 - 1e-6), None)
            if side is None:
                continue
            tool = next((t for t in table.tools if _does(t, hollow, limits)), None)
            found.append(_undercut(feature, hollow, left, side, tool))
            if tool is not None:
                for i in left:
                    faces[i] = done(faces[i], side, tool, NAMES[hollow.family])
                left = []
    return found, faces


def hollows_of(feature: Feature, left: Sequence[int]) -> list[Hollow]:
    """The undercuts of a feature, by its dimensions or its steps; left: its faces that nothing else reaches.

    A hole through the part is looked at from its other end too: a counterbore whose own mouth is shut off is cut from there.
    """
    if feature.kind == "undercut" and feature.views:
        slot = _slot(feature)
        return [slot] if slot else []
    if feature.axis is None or not feature.steps:
        return []
    found = _bores(feature.axis.direction, feature.steps)
    if not found and feature.bottom_condition == "through":
        x, y, z = feature.axis.direction
        found = _bores((-x, -y, -z), [_from_below(step) for step in reversed(feature.steps)], set(left))
    return found


def _from_below(step: HoleStep) -> HoleStep:
    return step.model_copy(update={"top": -step.bottom, "bottom": -step.top})


def _slot(feature: Feature) -> Hollow | None:
    view, size = feature.views[0], feature.dimensions
    mouth = size.get("width")
    flank = size.get("flank_angle")
    height = size.get("foot_height") or view.depth
    if not mouth or not height:
        return None
    d = view.direction
    if "neck_width" in size:  # a groove in a hole's wall
        depth, tall = size["depth"], size["height"]
        return Hollow(
            "t_slot_mill", d, size["neck_width"], mouth, tall, depth, max(0.0, depth - tall), through_mouth=True
        )
    if flank:
        wide = size.get("foot_width") or mouth + 2 * view.depth / tan(radians(flank))
        return Hollow("dovetail_mill", d, mouth, wide, view.depth, view.depth, 0.0, flank)
    foot = size.get("foot_width")
    return Hollow("t_slot_mill", d, mouth, foot, height, view.depth, max(0.0, view.depth - height)) if foot else None


def _bores(d: Vector, steps: Sequence[HoleStep], only: set[int] | None = None) -> list[Hollow]:
    """Steps of a hole that are wider than one nearer to its mouth; only: of whose faces some are among these, and none of the
    other steps' are.
    """
    out, mouth, top = [], steps[0].diameter, steps[0].top
    for k, step in enumerate(steps):
        wider = step.surface == "cylinder" and step.diameter > mouth + 2 * SLACK_MM
        others = {f for other in steps if other is not step for f in other.faces}
        if wider and (only is None or (only.intersection(step.faces) and not only & others)):
            last = k == len(steps) - 1
            family = "backside_counterbore" if last else "t_slot_mill"
            height, depth = step.top - step.bottom, top - step.bottom
            lid = max(0.0, top - step.top)
            out.append(Hollow(family, d, mouth, step.diameter, height, depth, lid, through_mouth=True))
        mouth = min(mouth, step.diameter, step.end_diameter)
    return out


def _does(tool: Tool, hollow: Hollow, limits: ReachLimits) -> bool:
    """Whether a cutter passes, fits and is wide and long enough."""
    families = ("t_slot_mill",) if hollow.family == "backside_counterbore" else (hollow.family,)
    if tool.kind not in families:
        return False
    stem = tool.DN or tool.DC
    room = hollow.mouth if hollow.through_mouth else hollow.width
    long = is_long_enough(tool, hollow.depth, limits)
    wide = hollow.flank is not None or goes_in(tool, hollow.side)
    angle = hollow.flank is None or abs((tool.SIG or 0.0) - hollow.flank) < 1.0
    low = (tool.APMX or 0.0) <= hollow.height + SLACK_MM
    return (
        long and wide and angle and low and stem < hollow.mouth and room + SLACK_MM >= tool.DC and tool.RE <= SLACK_MM
    )


def _undercut(feature: Feature, hollow: Hollow, faces: list[int], side: int, tool: Tool | None) -> Undercut:
    name = NAMES[hollow.family]
    angle = f" of {hollow.flank:g} degrees" if hollow.flank else ""
    passes = f"; its head must pass the mouth of {hollow.mouth:.2f} mm" if hollow.through_mouth else ""
    does = f"{tool.id} does it" if tool else "no cutter of the file does it"
    neck = f"neck under {hollow.neck:.2f} mm and at least {hollow.lid:.2f} mm long"
    if hollow.neck <= 0:
        neck = f"no neck is thin enough, for it goes {hollow.side:.2f} mm in behind the mouth"
    return Undercut(
        faces=faces,
        feature=feature.id,
        direction=side,
        family=hollow.family,
        neck=hollow.neck,
        neck_length=hollow.lid,
        head=hollow.head,
        head_height=hollow.height,
        cutter=tool.id if tool else None,
        text=f"{feature.id}: a {name}{angle}: {neck}, head over "
        f"{hollow.head:.2f} mm wide and at most {hollow.height:.2f} mm high{passes}; {does}",
    )


def is_long_enough(tool: Tool, depth: float, limits: ReachLimits) -> bool:
    """Whether a cutter goes so deep, and is not too long for its diameter then."""
    return depth <= min(usable_length(tool), limits.fail * tool.DC) + SLACK_MM


def goes_in(tool: Tool, side: float) -> bool:
    """Whether the head stands out of the neck far enough to go in behind a mouth."""
    return (tool.DC - (tool.DN or tool.DC)) / 2 >= side - SLACK_MM


def done(face: FaceReach, side: int, tool: Tool, family: str) -> FaceReach:
    """A face that an undercut cutter makes: a judgement by measures, not by touching every point."""
    text = f"by the {family} {tool.id}, by its measures"
    more = {"verdict": "reached", "touched": 1.0, "exact": False, "best": side, "cutter": tool.id, "reasons": [text]}
    return face.model_copy(update=more)
