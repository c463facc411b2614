"""What is known of a plan's soundness: bounds of the setups, and what the simulation and the checker found.

Lengths mm, volumes mm3, places in the part's coordinates. A part of the plan document (shared/plan.py).
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from shared.findings import Finding
from shared.units import Vector
from shared.wire import Document


class SetupProof(Document):
    """Whether the setup count is proven smallest, and what forces each setup."""

    count: int
    lower_bound: int
    status: Literal["optimal", "feasible", "time_limit"]
    witness: list[str] = Field(description="which features force which setup, in words")
    held: bool = Field(False, description="holding the workpiece forces more setups than order alone would")


class ClampingProof(Document):
    """Whether the number of clampings is proven smallest."""

    count: int
    lower_bound: int
    status: Literal["optimal", "feasible", "time_limit"]


class Lump(Document):
    """Material that the simulation finds where the part has none, or missing where the part has it."""

    volume: float = Field(description="mm3")
    thickness: float = Field(description="mm, the largest in it")
    at: Vector = Field(description="its thickest place, in the part's coordinates")
    face: int | None = Field(description="face of the part that it lies on")
    feature: str | None = Field(description="feature that owns the face")
    operation: str | None = Field(description="left: the operation that should have taken it; gouged: that took it")
    named: str | None = Field(
        None, description="left: code of the plan's finding that says so, `unplanned`, or `not_cut` where the simulation could "
        "not follow the operation; null: nothing says it",
    )  # fmt: skip


class Collision(Document):
    """Something that must not meet does, in the simulation."""

    kind: Literal["holder", "neck", "jaws", "entry", "rapid"] = Field(
        description="holder or neck in the workpiece; cutter or holder in the jaws; no free place to come down at; a rapid "
        "through material or jaws"
    )
    setup: str
    operation: str | None = Field(description="null: the setup's clearance plane")
    amount: float = Field(description="mm that one runs into the other")
    at: Vector = Field(description="where, in the part's coordinates")
    assumed: bool = Field(False, description="the holder is not the cutter file's but a collet nut of the usual size")
    message: str


NO_ROOM = "the cutter does not fit anywhere in the region"
"""Reason in `Simulation.not_cut` that is a fault of the plan, not of the simulation."""


class Simulation(Document):
    """How the plan was cut in simulation, and how fine."""

    resolution: float = Field(description="mm between rows of rays")
    ray_spacing: float = Field(description="mm between neighbouring rays: what is narrower two ways may be missed")
    rays: int
    tolerance: float = Field(description="mm: thinner skins, left or gouged, count as none")
    workpiece: float = Field(description="mm3 of the workpiece when all is cut")
    part: float = Field(description="mm3 of the part by the same rays")
    removed: float = Field(description="mm3 that all operations take off")
    edges_broken: float = Field(
        0.0, description="mm3 of these that broken edges take off the part as drawn, which has them sharp"
    )
    not_cut: dict[str, str] = Field(
        default_factory=dict, description="operations that were not cut in simulation, or not wholly, and why"
    )
    method: str


class ReachProof(Document):
    """Whether the plan was checked against what the shop's cutters reach of the part."""

    checked: bool
    left_out: int = Field(0, description="views of features that are not planned from, since cutters touch too little")
    because: str


class Proof(Document):
    """What is known about the plan's soundness."""

    setups: SetupProof
    clampings: ClampingProof | None = Field(None, description="null: not searched for")
    checker: list[Finding] = Field(default_factory=list, description="violations found by the independent checker")
    left_uncut: float | None = Field(None, description="mm3 that the simulation finds left; null: not simulated")
    gouged: float | None = Field(None, description="mm3 that the simulation finds cut too much; null: not simulated")
    left: list[Lump] = Field(default_factory=list, description="what makes up `left_uncut`, by face, largest first")
    gouges: list[Lump] = Field(default_factory=list, description="what makes up `gouged`, by operation and face")
    collisions: list[Collision] = Field(default_factory=list, description="what the simulation finds to meet")
    simulation: Simulation | None = None
    reach: ReachProof | None = Field(None, description="null: a plan from before this was asked")
