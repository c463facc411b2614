"""The features document: what the recognizer says and the planner reads.

Lengths are mm in the part's coordinates, angles degrees. A direction is a unit vector from the part towards the
tool. A *level* along a direction d is the dot product of a point with d: tops are larger than bottoms.
Names follow ISO 14649-10 in snake_case.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from pydantic import Field, PrivateAttr

from shared.carried import CarriedReach
from shared.findings import Finding
from shared.shape import CarriedShape, Shape
from shared.units import Vector
from shared.wire import Document

if TYPE_CHECKING:
    from shared.cutters import CutterTable
    from shared.reach import ReachDocument

SCHEMA = "sidewise.features/1"

Kind = Literal[
    "planar_face",
    "step",
    "slot",
    "open_pocket",
    "closed_pocket",
    "round_hole",
    "counterbore_hole",
    "countersunk_hole",
    "stepped_hole",
    "boss",
    "outside_profile",
    "chamfer",
    "edge_round",
    "undercut",
    "region",
    "enclosed_void",
]
HOLE_KINDS = ("round_hole", "counterbore_hole", "countersunk_hole", "stepped_hole")
POCKET_KINDS = ("step", "slot", "open_pocket", "closed_pocket")

HoleBottom = Literal["through", "flat", "flat_with_radius", "spherical", "conical"]
PocketBottom = Literal["through", "planar", "radiused", "general"]
Profile = Literal[
    "rectangular_closed",
    "circular_closed",
    "ngon",
    "general_closed",
    "linear",
    "square_u",
    "rounded_u",
    "vee",
    "tee",
    "partial_circular",
    "general",
]


class Box(Document):
    """Axis-aligned box, mm."""

    min: Vector
    max: Vector


class Face(Document):
    """One face of the solid; `index` is its 0-based place in TopExp.MapShapes(solid, TopAbs_FACE)."""

    index: int
    step_id: int | None = Field(None, description="number of the ADVANCED_FACE in the file")
    surface: str = Field(
        description="plane, cylinder, cone, sphere, torus, bspline, bezier, revolution, extrusion or other"
    )
    area: float = Field(description="mm2")
    feature: str | None = Field(None, description="id of the feature that owns the face")
    box: Box | None = Field(None, description="where the face lies: levels along the three axes of `part.frame`")
    reason: str | None = Field(None, description="why no feature owns it")


class Edge(Document):
    """A sharp convex edge that should be broken."""

    index: int
    faces: tuple[int, int]
    length: float
    angle: float = Field(description="degrees between the outward normals of its two faces: 90 at a box's edge")
    start: Vector
    end: Vector
    directions: list[Vector] = Field(description="directions from which a chamfer cutter reaches it")
    levels: list[float] = Field(description="level of the edge along each of `directions`")
    touch: list[float] = Field(
        default_factory=list,
        description="mm, for each of `directions`: diameter of a 90 degree chamfer cutter of 10 mm that touches the edge there "
        "and stands free; empty: 1",
    )


class Side(Document):
    """One side of the outline of a removed region, seen along the view's direction."""

    open: bool = Field(description="no wall rises here: the cutter may come in from outside the material")
    faces: list[int] = Field(description="wall faces of a closed side; empty for an open one")
    edges: list[int] = Field(description="edges of the solid that bound the floor on this side")
    length: float = Field(description="mm along the outline")
    start: Vector
    end: Vector
    radius: float | None = Field(None, description="of a side that is an arc")
    corner: bool = Field(False, description="a corner radius or bevel between two walls: not counted as a side")
    draft: float = Field(0.0, description="degrees that the wall leans away from the direction; 0 is upright")


class View(Document):
    """A feature as seen from one direction."""

    direction: Vector
    kind: Kind
    reachable: bool
    reach_share: float = Field(
        description="share of the feature's faces' area that is free towards this direction, 0 to 1"
    )
    blocked_by: list[int] = Field(default_factory=list, description="faces in the way, where not reachable")
    top: float = Field(description="level where cutting starts: top of the material that this feature removes")
    bottom: float = Field(description="level of the floor, or of the far side of a through feature")
    depth: float = Field(description="top - bottom")
    through: bool = False
    bottom_condition: HoleBottom | PocketBottom | None = None
    profile: Profile | None = None
    sides: list[Side] = Field(default_factory=list)
    open_sides: int = 0
    closed_sides: int = 0
    length: float | None = Field(
        None, description="longer extent of the region across the direction; of a step, along its wall"
    )
    width: float | None = Field(None, description="the other extent, square to `length`")
    region_area: float | None = Field(None, description="mm2 of the removed region seen along the direction")
    outline: list[list[Vector]] = Field(
        default_factory=list,
        description="closed rings of the removed region at the bottom level, outer ring first, arcs as chords",
    )
    corner_radius: float | None = Field(None, description="smallest upright concave corner; 0 is sharp, null is none")
    corner_count: int = Field(0, description="corners that have `corner_radius`")
    floor_radius: float | None = Field(None, description="between wall and floor; 0 is sharp, null is none")
    narrowest_gap: float | None = Field(
        None, description="diameter of the largest cutter that passes everywhere it must"
    )
    largest_cutter: float | None = Field(
        None, description="diameter of the largest cutter that fits somewhere in the region"
    )
    islands: int = 0


class Axis(Document):
    """The axis line of a hole: a point on it at the mouth, and the direction out of the mouth."""

    origin: Vector
    direction: Vector


class HoleStep(Document):
    """One cylinder or cone of a hole, from the mouth inwards; levels along the axis direction."""

    surface: Literal["cylinder", "cone", "sphere", "torus"]
    diameter: float = Field(description="mm; of a cone its larger end")
    end_diameter: float = Field(description="mm; of a cone its smaller end, else equal to `diameter`")
    angle: float | None = Field(None, description="included angle of a cone, degrees")
    top: float
    bottom: float
    faces: list[int]


class Hint(Document):
    """What a hole may be for by a standard's table: never a claim."""

    use: Literal["tap_drill", "clearance", "dowel", "counterbore", "countersink"]
    size: str = Field(description="for example M8 or M10x1")
    text: str
    source: str


class Feature(Document):
    """Faces cut together as one thing."""

    id: str
    kind: Kind
    faces: list[int]
    bottom: list[int] = Field(default_factory=list)
    walls: list[int] = Field(default_factory=list)
    blends: list[int] = Field(
        default_factory=list, description="corner and floor radii and bevels of the feature; they are among `faces`"
    )
    blend_chains: list[list[int]] = Field(
        default_factory=list, description="`blends` apart by the edge that each eased: smooth runs, or one surface"
    )
    bottom_condition: HoleBottom | PocketBottom | None = None
    profile: Profile | None = None
    open_sides: int = 0
    closed_sides: int = 0
    views: list[View] = Field(default_factory=list, description="best first: the first is the one that names the kind")
    dimensions: dict[str, float] = Field(default_factory=dict)
    axis: Axis | None = None
    steps: list[HoleStep] = Field(default_factory=list, description="of a hole, from the mouth inwards")
    removal_volume: float = Field(0.0, description="mm3 of stock without allowance that this feature takes away")
    inside: list[str] = Field(default_factory=list, description="features to be cut before: this one opens on them")
    pattern: str | None = None
    hints: list[Hint] = Field(default_factory=list)
    because: list[str]


class Pattern(Document):
    """Equal holes in a regular arrangement (ISO 14649: circular, rectangular, general pattern)."""

    id: str
    kind: Literal["circular", "rectangular", "general"]
    features: list[str]
    because: list[str]


class Part(Document):
    """The model that was read."""

    file: str
    sha256: str
    unit: str = Field(description="length unit written in the file: mm, inch, ...")
    step_schema: str = Field("", description="application protocol written in the file's header")
    bounding_box: Box
    volume: float
    solids: int
    frame: list[Vector] = Field(
        description="three unit vectors: the part's own axes x, y, z (not the file's when it is turned)"
    )
    frame_box: Box = Field(description="the part's box in its own axes: levels along `frame`")


class Closure(Document):
    """What the features remove plus the part should be the stock: volumes in mm3."""

    stock_volume: float = Field(description="of the part's box in its own axes, without allowance")
    part_volume: float
    removed: float = Field(description="sum of the features' removal volumes")
    unexplained: float = Field(description="stock - part - removed, as an absolute value")
    method: str = Field(description="how the figures were found, and their error bound")


class FeaturesDocument(Document):
    """All that is known of one part."""

    schema_: str = Field(SCHEMA, alias="schema")
    part: Part
    faces: list[Face]
    features: list[Feature]
    edges: list[Edge] = Field(default_factory=list, description="sharp convex edges to break")
    patterns: list[Pattern] = Field(default_factory=list)
    findings: list[Finding] = Field(default_factory=list)
    closure: Closure
    _shape: CarriedShape = PrivateAttr(default_factory=CarriedShape)
    _reach: CarriedReach = PrivateAttr(default_factory=CarriedReach)

    @property
    def shape(self) -> Shape | None:
        """The part's triangles, where the one who made the document left them with it; never written to JSON."""
        return self._shape.get()

    def reach_by(self, table: CutterTable) -> tuple[ReachDocument | None, str]:
        """(what a shop's cutters reach of the part, where the one who made the document left the means; else why not)."""
        return self._reach.by(table)

    def carry(self, shape: CarriedShape, reach: CarriedReach | None = None) -> None:
        """Leaves the part's shape and what cutters reach of it, or the means to make them, with the document."""
        self._shape = shape
        self._reach = reach or CarriedReach()
