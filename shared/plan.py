"""The job that the planner is given and the plan document that it answers with.

Lengths mm, angles degrees, times minutes, feeds mm/min, speeds rev/min, power kW. Tool keys are ISO 13399 symbols,
operation and strategy names are ISO 14649-11 entity names in snake_case.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import ConfigDict, Field, field_validator

from shared.features import Box
from shared.findings import Finding
from shared.proof import Proof
from shared.units import Vector
from shared.wire import Document

SCHEMA = "sidewise.plan/1"

CAUTIONS = [
    "This plan is a starting point, not a released program: a qualified machinist must review it before anything is cut.",
    "Speeds, feeds and depths are starting values; the cutter maker's data and the machine's limits come first.",
    "Prove out every program: simulate, then dry run above the part, then first part in single block with reduced rapids.",
    "Check workholding, stick-out and collision clearance at the machine: the plan reckons with plain jaws, not with your vise, clamps or fixtures.",
    "Keep guards closed, wear eye protection, and never reach in while the spindle turns.",
    "The machine's manual and local safety rules take precedence over anything written here.",
]


class Vise(Document):
    """What the shop holds with, mm. Defaults are a common machine vise: common practice, no source."""

    opening: float = Field(200.0, gt=0, description="widest opening of the jaws; wider parts go onto the table")
    jaw_height: float = Field(40.0, gt=0, description="most that the jaws stand above what the part rests on")
    jaw_widths: list[float] = Field(
        [25.0, 40.0, 60.0, 80.0, 100.0, 125.0, 150.0], min_length=1, description="jaws at hand"
    )
    least_grip: float = Field(5.0, gt=0, description="least height that jaws must grip of finished or raw sides")


Goal = Literal["clampings", "setups", "tool_changes", "minutes"]
GOALS: tuple[Goal, ...] = ("clampings", "setups", "tool_changes", "minutes")


class Job(Document):
    """What the user asks for."""

    stock: float | list[float] | str = Field(
        2.0, description="allowance per side in mm: one number, six numbers (-x +x -y +y -z +z), or a STEP file's path"
    )
    stock_box: Box | None = Field(
        None, description="the stock's box in the part's own axes (levels along part.frame), where `stock` is a file: "
        "the service reads it, the planner never does"
    )  # fmt: skip
    axes: Literal[3, 4, 5] = 3
    material: str = "aluminium"
    material_file: str | None = Field(None, description="path of a material file, used instead of `material`")
    tools: str | None = Field(None, description="path of a cutter file; null is the default table")
    machine: str | None = Field(None, description="path of a machine file; null is the assumed machine")
    notes: str | None = Field(None, description="path of a notes file: threads, tolerances, roughness")
    threads: dict[str, str] = Field(
        default_factory=dict,
        description='threads to tap: hole diameter in mm or feature id -> size, for example {"10.2": "M12"}; none is assumed',
    )
    vise: Vise = Field(default_factory=Vise)  # type: ignore[arg-type]
    goals: list[Goal] = Field(
        list(GOALS), description="what is made smallest, most important first; goals left out follow in the usual order"
    )
    weights: dict[Goal, float] = Field(
        default_factory=dict,
        description="price of one clamping, setup, tool change and minute, goals left out cost nothing; where given, their "
        "sum is made smallest instead of one goal after the other",
    )
    simulate: bool = Field(True, description="cut the plan in simulation, where the part's shape is at hand")
    reach: bool = Field(
        True, description="plan from no side, and with no cutter, that a reach analysis of the part refutes; where the "
        "features document comes without the part, `proof.reach` says that this was not checked",
    )  # fmt: skip
    time_limit: float = Field(
        20.0, description="what the setup search may take before it reports its bound: about seconds, counted in the "
        "solver's own steps, so that the same input gives the same plan on every machine",
    )  # fmt: skip

    @field_validator("goals")
    @classmethod
    def _once(cls, goals: list[Goal]) -> list[Goal]:
        if len(set(goals)) != len(goals):
            raise ValueError("a goal is named twice")
        return goals

    @field_validator("weights")
    @classmethod
    def _prices(cls, weights: dict[Goal, float]) -> dict[Goal, float]:
        if weights and (not all(0.0 <= w < float("inf") for w in weights.values()) or not any(weights.values())):
            raise ValueError("weights are prices: zero or more, and one at least above zero")
        return weights


class StockBox(Document):
    """The raw block: its allowance per side of the part's box, in the part's own axes."""

    allowance: list[float] = Field(description="mm at -x +x -y +y -z +z of the part's own axes")
    size: Vector = Field(description="mm along the part's own axes")
    source: str


class PlanJob(Document):
    """The job as it was understood, with defaults filled in."""

    stock: StockBox
    axes: int
    material: str
    tools: str = Field(description="cutter table used: its name or file name")
    machine: dict[str, Any] = Field(default_factory=dict)
    density: float = Field(0.0, description="of the material, kg/dm3; 0 where it is not known")
    vise: Vise = Field(default_factory=Vise, description="what the shop holds with")  # type: ignore[arg-type]
    goals: list[Goal] = Field(list(GOALS), description="what was made smallest, most important first")
    weights: dict[Goal, float] = Field(default_factory=dict, description="prices whose sum was made smallest instead")
    reach: bool = Field(False, description="a reach document was asked what no cutter touches")


class Tool(Document):
    """A cutter, ISO 13399 properties. Plans share the cutters of one table, so none can be changed in place."""

    model_config = ConfigDict(frozen=True)

    id: str
    kind: str = Field(
        description="ISO 14649 tool entity: facemill, endmill, ball_endmill, bullnose_endmill, twist_drill, ..."
    )
    DC: float = Field(description="cutting diameter")
    RE: float = Field(0.0, description="corner radius")
    APMX: float | None = Field(None, description="largest depth of cut (cutting edge length)")
    LU: float | None = Field(None, description="usable length: deepest reach below the neck or holder")
    NOF: int | None = Field(None, description="number of flutes")
    RPMX: float | None = Field(None, description="largest speed the cutter may turn at, rev/min")
    SIG: float | None = Field(None, description="point angle, degrees")
    TDZ: str | None = Field(None, description="thread size of a tap, for example M12")
    TP: float | None = Field(None, description="thread pitch of a tap, mm")
    DCX: float | None = Field(None, description="largest cutting diameter of a chamfer, spot or tee cutter")
    DN: float | None = Field(None, description="neck diameter behind the cutting part")
    substrate: str = Field("", description="HSS or carbide")
    holder: tuple[tuple[float, float], ...] = Field(
        default=(),
        description="what stands behind the usable length: cylinders (diameter, length), from the cutter upwards",
    )


class Levels(Document):
    """Levels along the setup's direction, measured in the part's coordinates (dot product with the direction)."""

    top: float
    bottom: float
    break_through: float = Field(
        0.0, description="mm that the cutter goes past `bottom`, included in its travel, not in `bottom`"
    )


class Passes(Document):
    """How the material is divided."""

    axial_depth: float = Field(description="mm a level")
    axial_count: int
    radial_depth: float = Field(description="mm a pass")
    radial_count: int
    allowance_side: float = 0.0
    allowance_bottom: float = 0.0


class Operation(Document):
    """One cutter doing one job on one feature, or on a group of equal ones."""

    id: str
    feature: str | None = Field(
        description="first of `features`; null where the operation serves edges or raw sides only"
    )
    features: list[str]
    faces: list[int] = Field(default_factory=list, description="faces that this operation brings to size")
    edges: list[int] = Field(default_factory=list, description="edges that an edge break serves")
    name: str = Field(description="in the trade's words: face, rough pocket, spot, drill, tap, break edges, ...")
    kind: str = Field(description="ISO 14649-11 operation entity in snake_case")
    tool: Tool
    levels: Levels
    passes: Passes
    strategy: str
    entry: str
    whole_block: bool = Field(
        False,
        description="it clears all of the block at its levels but what stands up, not the feature's outline alone",
    )
    speed: float = Field(description="rev/min")
    feed: float = Field(description="mm/min")
    cutting_speed: float = Field(description="m/min")
    power: float = Field(0.0, description="kW at the spindle, estimated")
    path_length: float = Field(description="mm at cutting feed")
    rapid_length: float = Field(0.0, description="mm of rapids across the workpiece, at the clearance plane")
    minutes: float
    after: list[str] = Field(default_factory=list, description="operations that must be done before")
    removed: float | None = Field(None, description="mm3 that the simulation finds it to take off; null: not simulated")
    because: list[str]


class Clamping(Document):
    """One holding of the workpiece."""

    id: str
    rest_faces: list[int] = Field(description="faces that the workpiece rests on; empty while it rests on raw stock")
    clamp_faces: list[int]
    rest_on: str = Field(description="in words: which raw or cut side it rests on")
    clamp_on: str
    device: Literal["vise", "table_clamps", "chuck", "between_ends", "fixture"] = Field(
        "fixture", description="table_clamps: side clamps against stops on the machine table, or on a plate on it"
    )
    rest_side: str | None = Field(None, description="stock side that it rests on: -z, ...; null where none is known")
    clamp_sides: list[str] = Field(default_factory=list, description="stock sides that jaws or clamps press on")
    opening: float | None = Field(None, description="mm between the clamped sides when the clamping starts")
    grip_height: float | None = Field(None, description="mm that jaws or clamps stand above what the part rests on")
    jaw_width: float | None = Field(None, description="mm, widest jaws that leave free what is cut beside them")
    contact_area: float | None = Field(None, description="mm2 that face each other between the jaws, known at least")
    because: list[str] = Field(default_factory=list)


class Setup(Document):
    """A work plane and a clearance plane with the operations cut in it."""

    id: str
    clamping: str
    direction: Vector
    origin: Vector
    x_axis: Vector
    clearance: float = Field(description="level of the clearance plane along `direction`, in the part's coordinates")
    operations: list[Operation]
    minutes: float
    because: list[str]


class Totals(Document):
    """Counts for the quoter."""

    features: int
    setups: int
    clampings: int
    operations: int
    tools: int
    tool_changes: int
    minutes: float = Field(description="cutting, rapids, tool changes; without loading")


class Unplanned(Document):
    """A feature that no operation cuts, and why."""

    feature: str
    reason: str


class PlanDocument(Document):
    """Setups and operations for one part, each decision with its reason."""

    schema_: str = Field(SCHEMA, alias="schema")
    part: dict[str, Any]
    job: PlanJob
    cautions: list[str] = Field(default_factory=lambda: list(CAUTIONS))
    clampings: list[Clamping]
    setups: list[Setup]
    tools: list[Tool] = Field(default_factory=list)
    proof: Proof
    totals: Totals
    unplanned: list[Unplanned] = Field(default_factory=list)
    findings: list[Finding] = Field(default_factory=list)
