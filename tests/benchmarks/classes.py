"""Our kinds and attributes -> the class names of the labelled datasets. The recognizer knows nothing of this table.

The first row that fits names the class. `Shape` answers from the document alone. The notes say what was seen in the
labelled parts (mfcad, mfcad2); both cut features into a box whose edges are the coordinate axes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from shared.features import HOLE_KINDS, Feature, FeaturesDocument
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
    # cavity. Where another cut took most of one end, the other is a whole half turn still.
    Row(
        "circular_end_pocket",
        POCKETS,
        lambda s: len(s.arcs) == 2 and s.planes == 2 and (s.arcs[1] > 135.0 or s.arcs[0] > 175.0),
    ),
    # Slots placed on the wall or floor of an earlier cut do not always reach the open side: the mouth is closed by a
    # plane. The shape is that of the slot nonetheless: D of half circle and three planes, half circle and one plane,
    # one plane and two quarters with a fourth side. (Plane ones look like pockets and passages, and are counted as
    # wrong.)
    Row("v_circular_end_blind_slot", ("closed_pocket",), lambda s: len(s.arcs) == 1 and s.planes_and_mouth == 3),
    Row("circular_through_slot", ("closed_pocket",), lambda s: len(s.arcs) == 1 and s.planes_and_mouth == 1),
    Row("h_circular_end_blind_slot", ("closed_pocket",), lambda s: len(s.arcs) == 2 and s.planes_and_mouth == 2),
    # The same with plane walls: one of them runs out to a knife edge at the face on which the slot was begun.
    Row("triangular_through_slot", ("closed_pocket",), lambda s: s.shut != [] and s.through and s.planes == 2),
    Row("rectangular_through_slot", ("closed_pocket",), lambda s: s.shut != [] and s.through and s.planes == 3),
    Row("rectangular_blind_slot", ("closed_pocket",), lambda s: s.shut != [] and s.planes == 3 and s.square),
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
    Row("rectangular_blind_slot", ("slot",), lambda s: s.profile == "square_u" and s.ends_in_pocket),
    Row("rectangular_through_slot", ("slot",), lambda s: s.profile == "square_u"),
    Row("v_circular_end_blind_slot", ("slot",), lambda s: s.wall_surfaces == {"cylinder", "plane"} and s.planes == 2),
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
    Row("circular_blind_step", OPEN, lambda s: len(s.arcs) == 1 and s.planes == 0 and s.feature.open_sides >= 2),
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
    Row("triangular_pocket", OPEN, lambda s: s.planes == 3 or (s.planes == 2 and s.was_closed and not s.square)),
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
    """Per feature {id, kind, class, faces}; blends inside a feature are split off, as the datasets label them apart."""
    found = []
    for feature in document.features:
        blends = _blends(feature, document)
        taken = {f for faces in blends.values() for f in faces}
        own = [f for f in feature.faces if f not in taken]
        rows = [
            (class_of(feature, document), own),
            *((name, c) for name, fs in blends.items() for c in _chains(feature, fs)),
        ]
        found += [
            {"id": feature.id, "kind": feature.kind, "class": name, "faces": sorted(faces)}
            for name, faces in rows
            if faces
        ]
    return found


BLENDS = {"plane": "chamfer", "cone": "chamfer", "cylinder": "round", "torus": "round", "sphere": "round"}
"""Our corner and floor radii belong to their pocket and a broken mouth to its hole; the datasets' makers cut them last,
on any edge, also a concave one, as features of their own."""


def _blends(feature: Feature, document: FeaturesDocument) -> dict[str, list[int]]:
    surfaces = {f: document.faces[f].surface for f in feature.faces}
    faces = set(feature.blends)
    if feature.kind in HOLE_KINDS:
        faces = {f for f in faces if surfaces[f] != "plane"}  # a shoulder belongs to its counterbore
        faces |= _broken_mouths(feature) | {f for f, surface in surfaces.items() if surface == "torus"}
    elif feature.kind in CUTS:
        faces |= {f for f, surface in surfaces.items() if surface in ("torus", "sphere")}
    found: dict[str, list[int]] = {}
    for f in sorted(faces):
        found.setdefault(BLENDS.get(surfaces[f], "round"), []).append(f)
    return found


def _chains(feature: Feature, faces: list[int]) -> list[list[int]]:
    """Faces of blends by the edge that each eased; what the document tells no chain of stays together."""
    chains = [sorted(set(c) & set(faces)) for c in feature.blend_chains]
    told = {f for c in chains for f in c}
    return [c for c in (*chains, [f for f in faces if f not in told]) if c]


def _broken_mouths(feature: Feature) -> set[int]:
    """Faces of cones at either open end of a hole that are not its countersink."""
    steps = feature.steps
    cylinders = [i for i, s in enumerate(steps) if s.surface == "cylinder"]
    if not cylinders:
        return set()
    ends = [i for i in range(len(steps)) if i < cylinders[0] or i > cylinders[-1]]
    sink = feature.kind == "countersunk_hole" or (feature.kind == "stepped_hole" and len(cylinders) == 1)
    if sink and ends:
        ends.remove(cylinders[0] - 1 if cylinders[0] > 0 else ends[0])  # the cone that meets the cylinder
    opens = [i for i in ends if i < cylinders[0] or feature.bottom_condition == "through"]  # else it is a drill point
    return {f for i in opens if steps[i].surface == "cone" for f in steps[i].faces}
