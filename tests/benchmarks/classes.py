"""Our kinds and attributes -> the class names of the labelled datasets. The recognizer knows nothing of this table.

The first row that fits names the class. `Shape` answers from the document alone. The notes say what was seen in the
labelled parts (mfcad, mfcad2); both cut features into a box whose edges are the coordinate axes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from shared.features import Feature, FeaturesDocument
from tests.benchmarks.shape import Shape

CUTS = ("closed_pocket", "open_pocket", "slot", "step")
POCKETS = ("closed_pocket", "open_pocket")
OPEN = ("open_pocket", "slot", "step")


@dataclass(frozen=True)
class Row:
    """A dataset class, our kinds that may be it, and the condition on the feature's shape."""

    name: str
    kinds: tuple[str, ...]
    fits: Callable[[Shape], bool] = lambda s: True


TABLE: tuple[Row, ...] = (
    # Holes. One cylinder of a full turn and, if blind, a plane floor: no drill points in the data. A hole that
    # crosses a cavity has several cylinders of one axis and diameter. Counterbores and countersinks always go right
    # through.
    Row("through_hole", ("round_hole",), lambda s: s.through),
    Row("blind_hole", ("round_hole",)),
    Row("counterbore", ("counterbore_hole",)),
    # The cone has any half angle from 8 to 63 degrees and always meets the cylinder: no flat between.
    Row("countersunk_hole", ("countersunk_hole",)),
    Row("countersunk_hole", ("stepped_hole",), lambda s: "cone" in s.surfaces),
    Row("counterbore", ("stepped_hole",)),
    # Edges. A chamfer follows the edge it was given over its smooth neighbours: plane, cone, plane at a slot's round
    # end are one feature. On a hole's mouth it is a cone, in class and instance apart from the hole; a round there is
    # a torus.
    Row("chamfer", ("chamfer",)),
    Row("round", ("edge_round",)),
    # Ring groove: outer cylinder, inner cylinder (the island, flush with the face), plane ring as floor.
    Row("Oring", POCKETS, lambda s: s.islands > 0 and s.planes == 0 and s.wall_surfaces == {"cylinder"}),
    Row(
        "Oring",
        ("closed_pocket",),
        lambda s: s.planes == 0 and len(s.feature.walls) > 1 and s.wall_surfaces == {"cylinder"},
    ),
    # Obround: two planes, two half cylinders, floor. Only blind ones are made; one through is one that broke into a
    # cavity.
    Row("circular_end_pocket", POCKETS, lambda s: len(s.arcs) == 2 and s.planes == 2),
    # Through openings: 3, 4 or 6 planes. Triangles are of any angles, rectangles lie at any angle on the face,
    # hexagons are regular. A cavity on the way leaves the walls in pieces, one feature nonetheless.
    Row("triangular_passage", ("closed_pocket",), lambda s: s.through and s.planes == 3 and not s.arcs),
    Row("rectangular_passage", ("closed_pocket",), lambda s: s.through and s.planes == 4 and not s.arcs),
    Row("6sides_passage", ("closed_pocket",), lambda s: s.through and s.planes >= 5 and not s.arcs),
    Row("triangular_pocket", ("closed_pocket",), lambda s: s.planes == 3 and not s.arcs),
    Row("rectangular_pocket", ("closed_pocket",), lambda s: s.planes == 4 and not s.arcs),
    Row("6sides_pocket", ("closed_pocket",), lambda s: s.planes >= 5 and not s.arcs),
    # Slots open at both ends: V of two planes without floor, U of floor and two planes, half cylinder (sometimes
    # closed by a plane, where the slot was placed on a face that a deeper cut had left).
    Row("triangular_through_slot", ("slot",), lambda s: s.profile == "vee"),
    Row("rectangular_through_slot", ("slot",), lambda s: s.profile == "square_u"),
    Row("circular_through_slot", ("slot",), lambda s: s.profile == "partial_circular"),
    Row("circular_through_slot", ("slot",), lambda s: "cylinder" in s.surfaces),
    Row("triangular_through_slot", ("slot",), lambda s: not s.feature.bottom),
    Row("rectangular_through_slot", ("slot",)),
    # Steps with one straight wall. All three have a plane floor square to an axis and a wall that stands upright on
    # it. Along the box: a rectangular step. Across it from one side to the opposite one: slanted. Cutting off a
    # corner of the box, so that the floor is a triangle with two open sides: a triangular blind step.
    Row("circular_blind_step", ("step",), lambda s: s.planes == 0 and bool(s.arcs)),
    Row("2sides_through_step", ("step",), lambda s: s.planes == 2),
    Row("rectangular_through_step", ("step",), lambda s: s.along_box),
    Row("triangular_blind_step", ("step",), lambda s: s.across_corner),
    Row("slanted_through_step", ("step",)),
    # Open pockets with round walls. v: plane, half cylinder, plane, one side open. h: quarter cylinder, plane,
    # quarter cylinder; the quarters reach the open side, so there is no plane wall beside them. Blind step: a quarter
    # cylinder round a corner of the box, two sides open.
    Row("h_circular_end_blind_slot", OPEN, lambda s: len(s.arcs) == 2 and s.planes == 1),
    Row("v_circular_end_blind_slot", OPEN, lambda s: len(s.arcs) == 1 and s.planes == 2),
    Row("circular_through_slot", OPEN, lambda s: len(s.arcs) == 1 and s.planes == 0 and s.through),
    Row("circular_blind_step", OPEN, lambda s: len(s.arcs) == 1 and s.planes == 0 and s.arcs[0] < 135.0),
    Row("blind_hole", OPEN, lambda s: len(s.arcs) == 1 and s.planes == 0),
    # Open pockets with plane walls. Three square ones: rectangular blind slot. Two in a V (any angle, across the
    # box): step of two sides; two square ones along the box at its corner: rectangular blind step. The rest were
    # closed when they were made, and another cut took a wall: their corners still tell them apart.
    Row("6sides_passage", OPEN, lambda s: s.through and s.hexagonal and s.planes >= 3),
    Row("6sides_pocket", OPEN, lambda s: s.hexagonal and s.planes >= 3),
    Row("rectangular_passage", OPEN, lambda s: s.through and s.square and s.planes >= 3),
    Row("rectangular_pocket", OPEN, lambda s: s.planes >= 4),
    Row("rectangular_blind_slot", OPEN, lambda s: s.square and s.planes == 3),
    Row("triangular_passage", OPEN, lambda s: s.through and s.planes in (2, 3)),
    Row("triangular_pocket", OPEN, lambda s: s.planes == 3),
    Row("rectangular_blind_step", OPEN, lambda s: s.planes == 2 and s.along_box),
    Row("2sides_through_step", OPEN, lambda s: s.planes == 2),
    Row("rectangular_through_step", OPEN, lambda s: s.planes == 1 and s.along_box),
    Row("slanted_through_step", OPEN, lambda s: s.planes == 1),
    # What is left of the block.
    Row("stock", ("planar_face", "outside_profile")),
)


def class_of(feature: Feature, document: FeaturesDocument) -> str:
    """Dataset class of a feature, or `unmapped:<kind>` where the datasets have no such thing: that counts as wrong."""
    shape = Shape(feature, document)
    for row in TABLE:
        if feature.kind in row.kinds and row.fits(shape):
            return row.name
    return f"unmapped:{feature.kind}"


def segments(document: FeaturesDocument) -> list[dict]:
    """Per feature {id, kind, class, faces}; broken mouths of holes are split off, as the datasets label them apart."""
    found = []
    for feature in document.features:
        mouths = _broken_mouths(feature)
        taken = {f for _, faces in mouths for f in faces}
        rows = [(class_of(feature, document), [f for f in feature.faces if f not in taken]), *mouths]
        found += [
            {"id": feature.id, "kind": feature.kind, "class": name, "faces": sorted(faces)}
            for name, faces in rows
            if faces
        ]
    return found


def _broken_mouths(feature: Feature) -> list[tuple[str, list[int]]]:
    """Cones and rounds at either end of a hole that are not its countersink: chamfers and rounds to the datasets."""
    steps = feature.steps
    cylinders = [i for i, s in enumerate(steps) if s.surface == "cylinder"]
    if not cylinders:
        return []
    ends = [i for i in range(len(steps)) if i < cylinders[0] or i > cylinders[-1]]
    sink = feature.kind == "countersunk_hole" or (feature.kind == "stepped_hole" and len(cylinders) == 1)
    if sink and cylinders[0] > 0:
        ends.remove(cylinders[0] - 1)  # the cone that meets the cylinder
    elif sink and ends:
        ends.remove(ends[0])
    names = {"cone": "chamfer", "torus": "round"}
    return [
        (names[steps[i].surface], list(steps[i].faces))
        for i in ends
        if steps[i].surface in names and _widens(feature, i)
    ]


def _widens(feature: Feature, i: int) -> bool:
    """A cone at the far end is an edge break only where the hole comes out there; else it is a drill point."""
    first = next(k for k, s in enumerate(feature.steps) if s.surface == "cylinder")
    return i < first or feature.bottom_condition == "through"
