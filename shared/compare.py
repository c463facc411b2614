"""The compare document: what changed between two models of a part, and what that changes in its plan.

Places and directions are in the old file's coordinates: where the new model lies elsewhere as a whole, it is laid onto
the old one first, and `placement` says how. Lengths mm, angles degrees, times minutes.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from shared.findings import Finding
from shared.plan import CAUTIONS, Tool, Totals
from shared.units import Vector
from shared.wire import Document

SCHEMA = "sidewise.compare/1"


class Size(Document):
    """One dimension before and after; null where the feature has none of that name."""

    name: str
    old: float | None
    new: float | None


class FeatureChange(Document):
    """A feature of the old model, of the new one, or of both, with what is different."""

    kind: str = Field(description="of the old feature; of the new one where it was added")
    new_kind: str | None = Field(None, description="where the kind changed too: a slot that became an open pocket")
    old: str | None = Field(None, description="id in the old model")
    new: str | None = Field(None, description="id in the new model")
    moved_by: Vector | None = Field(None, description="mm along the old file's axes")
    sizes: list[Size] = Field(default_factory=list, description="dimensions that differ")
    directions_old: list[Vector] = Field(default_factory=list, description="it could be cut from")
    directions_new: list[Vector] = Field(default_factory=list, description="it can be cut from now")
    operations_old: list[str] = Field(default_factory=list)
    operations_new: list[str] = Field(default_factory=list)
    minutes_old: float = Field(0.0, description="of its operations; of one that cuts several features its share")
    minutes_new: float = 0.0
    because: list[str]


class Pair(Document):
    """The same feature in both models."""

    kind: str
    old: str
    new: str


class Placement(Document):
    """How the new model was laid onto the old one: x_old = rotation x_new + offset."""

    kind: Literal["same", "moved", "turned"]
    rotation: list[Vector] = Field(description="three rows")
    offset: Vector
    angle: float = Field(0.0, description="degrees of the turn")
    coincide: int = Field(description="features of equal kind, size and place when laid so")
    because: list[str]


class SetupChange(Document):
    """A setup of the old plan, of the new one, or of both (same direction, same turn in the sequence)."""

    old: str | None = None
    new: str | None = None
    direction: Vector
    minutes_old: float = 0.0
    minutes_new: float = 0.0
    operations_added: int = 0
    operations_removed: int = 0
    operations_changed: int = 0
    because: list[str] = Field(default_factory=list)


class OperationChange(Document):
    """An operation that was added, removed, or is done otherwise."""

    what: Literal["added", "removed", "changed"]
    name: str
    old: str | None = None
    new: str | None = None
    features_old: list[str] = Field(default_factory=list)
    features_new: list[str] = Field(default_factory=list)
    minutes_old: float = 0.0
    minutes_new: float = 0.0
    because: list[str] = Field(default_factory=list, description="what is different")


class PlanChanges(Document):
    """What the changed features change in the plan for the same job."""

    totals_old: Totals
    totals_new: Totals
    setups: list[SetupChange] = Field(description="setups that differ; those that are equal are left out")
    setups_equal: int = 0
    operations: list[OperationChange]
    operations_equal: int = 0
    cutters_added: list[Tool] = Field(default_factory=list)
    cutters_removed: list[Tool] = Field(default_factory=list)
    unplanned_old: list[str] = Field(default_factory=list)
    unplanned_new: list[str] = Field(default_factory=list)


class Model(Document):
    """One of the two models."""

    file: str
    sha256: str
    size: Vector = Field(description="mm along the part's own axes")
    volume: float = Field(description="mm3")
    features: int


class CompareDocument(Document):
    """Two models of one part: features added, removed, moved and resized, and the plan's changes."""

    schema_: str = Field(SCHEMA, alias="schema")
    old: Model
    new: Model
    placement: Placement
    job: dict[str, Any] = Field(default_factory=dict, description="the job that both plans are made for")
    cautions: list[str] = Field(default_factory=lambda: list(CAUTIONS))
    added: list[FeatureChange]
    removed: list[FeatureChange]
    moved: list[FeatureChange] = Field(description="what is both moved and resized stands in both lists")
    resized: list[FeatureChange]
    access: list[FeatureChange] = Field(
        default_factory=list, description="neither moved nor resized, but cut from other directions than before"
    )
    unchanged: list[Pair]
    plan: PlanChanges | None = Field(None, description="null where only the features were compared")
    findings: list[Finding] = Field(default_factory=list)
