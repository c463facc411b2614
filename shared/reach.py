"""The reach document: for every face and direction what is seen, what real cutters touch, and what blocks the rest.

Lengths mm, shares 0 to 1 of a face's area, directions unit vectors from the part towards the tool, levels dot products
with the direction. *Seen* is touched by a cutter of no diameter. *Touched* means that a cutter can stand with its edge on
the point without its edge, neck or holder entering the finished part, and be drawn back along the direction.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from shared.features import Part
from shared.findings import Finding
from shared.plan import CAUTIONS, Tool
from shared.units import Vector
from shared.wire import Document

SCHEMA = "sidewise.reach/1"

Reason = Literal[
    "material_above",
    "faces_away",
    "gap_too_narrow",
    "corner_too_tight",
    "floor_radius_too_small",
    "holder_collides",
    "too_long_for_its_diameter",
    "too_short",
    "undercut",
    "sealed",
]
Lie = Literal["floor", "wall", "slope", "round", "away"]
Verdict = Literal["reached", "warning", "not_reached"]


class ReachLimits(Document):
    """When a cutter is long for its diameter: stick-out over DC. Common practice, no source."""

    warn: float = Field(5.0, gt=0, description="milling: from here on a warning")
    fail: float = Field(10.0, gt=0, description="milling: beyond this the cutter does not count")
    drill_warn: float = Field(10.0, gt=0, description="drills and reamers: from here on a warning")
    drill_fail: float = Field(30.0, gt=0, description="drills and reamers: beyond this the cutter does not count")
    share: float = Field(
        0.001, ge=0, lt=1, description="share of a face that may stay untouched and still counts as none"
    )


class Blocker(Document):
    """What keeps a cutter from part of a face."""

    reason: Reason
    faces: list[int] = Field(default_factory=list, description="faces in the way, the most important first")
    share: float = Field(description="share of the face that is lost to this")
    text: str


class Touch(Document):
    """What one cutter touches."""

    cutter: str = Field(description="id of the cutter")
    share: float


class FaceView(Document):
    """One face from one direction."""

    direction: int = Field(description="index in `directions`")
    lies: Lie = Field(description="how the face lies to the direction")
    seen: float
    fits: float | None = Field(
        None,
        description="diameter of the largest flat cutter that touches all that is seen, by shape alone; null: no limit",
    )
    largest: str | None = Field(None, description="id of the largest cutter of the file that touches all of the face")
    stick_out: float | None = Field(None, description="mm below its holder that this cutter needs, or the best one")
    touched: float = Field(description="share that the file's cutters touch together from here")
    by: list[Touch] = Field(default_factory=list, description="share by each of `cutters`, in their order")
    blockers: list[Blocker] = Field(default_factory=list)


class FaceReach(Document):
    """One face: the best that can be said of it, and each direction's view."""

    index: int
    feature: str | None = None
    surface: str
    area: float
    verdict: Verdict
    touched: float = Field(
        description="share touched from all directions together; a lower bound where `exact` is false"
    )
    share_error: float = Field(
        0.0, description="how far its shares may be off, for each boundary of what is touched that crosses it"
    )
    exact: bool = Field(True, description="no sampling and no facets took part in this face's figures")
    best: int | None = Field(None, description="index in `directions` of the best view")
    cutter: str | None = Field(
        None, description="id of the largest cutter from the best direction that touches all of it"
    )
    reasons: list[str] = Field(default_factory=list, description="in plain words, where it is not reached or only just")
    views: list[FaceView] = Field(default_factory=list, description="the directions from which any of it is seen")


class Undercut(Document):
    """A hollow that no plain cutter gets into, and what a cutter for it must measure."""

    faces: list[int]
    feature: str | None = None
    direction: int = Field(description="index in `directions`: where the neck comes in")
    family: str = Field(description="ISO 14649 tool entity, or lollipop and back counterbore as the trade says")
    neck: float = Field(description="largest neck diameter that passes the mouth")
    neck_length: float = Field(description="least length of the neck, from the mouth to the head")
    head: float = Field(description="least cutting diameter that fills the hollow behind the mouth")
    head_height: float = Field(description="largest height of the head")
    cutter: str | None = Field(None, description="id of a cutter of the file that does it; null: none does")
    text: str


class Refusal(Document):
    """A cutter that does not fit a feature's radii."""

    cutter: str
    reasons: list[Reason]
    texts: list[str]


class FeatureReach(Document):
    """A feature: the worst of its faces."""

    feature: str
    kind: str
    faces: list[int]
    verdict: Verdict
    touched: float
    directions: list[int] = Field(description="directions from which all its faces are touched together")
    cutter: str | None = Field(None, description="the largest cutter that touches all of it from the first of these")
    stick_out: float | None = None
    reasons: list[str] = Field(default_factory=list)
    refused: list[Refusal] = Field(
        default_factory=list,
        description="those of `cutters` that break the rules of corner and floor radius (shared/fit.py)",
    )


class Direction(Document):
    """A direction that was looked along."""

    vector: Vector
    source: Literal["main", "feature", "user", "face", "sphere"]
    seen: float = Field(description="share of the part's whole area that is seen")
    touched: float = Field(description="share of the part's whole area that the file's cutters touch")


class Accuracy(Document):
    """How the figures were found, and how far they may be off."""

    method: str
    resolution_mm: float = Field(description="largest spacing of what was sampled; 0: nothing was")
    error_mm: float = Field(description="largest distance between the shapes that were measured and the true ones")
    share_error: float = Field(description="largest `share_error` of a face")


class ReachDocument(Document):
    """Proof that every face can be cut, or exactly why not."""

    schema_: str = Field(SCHEMA, alias="schema")
    part: Part
    verdict: Verdict
    tools: str = Field(description="cutter table used: its name or file name")
    limits: ReachLimits
    directions: list[Direction]
    cutters: list[Tool] = Field(description="the cutters whose shares are written out; all of the file were considered")
    faces: list[FaceReach]
    features: list[FeatureReach]
    undercuts: list[Undercut] = Field(default_factory=list)
    findings: list[Finding] = Field(default_factory=list)
    accuracy: Accuracy
    cautions: list[str] = Field(default_factory=lambda: list(CAUTIONS))
