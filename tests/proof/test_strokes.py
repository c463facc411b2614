"""Strokes that must not hit what they pass: leaning walls, floor radii, walls beside surfaces, ends of chamfers."""

from __future__ import annotations

import math
from pathlib import Path

import cadquery as cq
import pytest
import shapely
from numpy.testing import assert_allclose

from planner import plan
from planner.proof.prove import prove
from planner.proof.regions import Region, centres
from recognizer import recognize

FINE = 0.2
"""Mm: resolution that is fine enough for these parts."""


def proved(solid, folder: Path, change=None):
    """The plan of a solid cut in simulation; `change` spoils it first."""
    path = folder / "part.step"
    cq.exporters.export(solid, str(path))
    features = recognize(path)
    document = plan(features, {"simulate": False})
    if change:
        change(document)
    prove(document, features, features.shape, FINE)
    return document


def operations(document, name):
    return [op for s in document.setups for op in s.operations if op.name == name]


def test_a_leaning_wall_lets_a_rounded_cutter_nearer():
    # Plane geometry: a corner circle RE tangent to a wall that leans by t, against one that stands on the tip's level.
    t, radius, edge = math.radians(10.0), 6.0, 2.0
    line = shapely.LineString([(0, 0), (0, 50)])
    region = Region(shapely.box(0, 0, 40, 50), line, ((line, t),))
    for depth in (0.0, 8.0):
        off = centres(region.at_depth(depth, edge), radius).bounds[0]
        corner = (off - (radius - edge), edge)  # the centre of the corner circle left of the axis, over the tip
        wall_at_tip = depth * math.tan(t)
        # The wall falls back by tan t a mm going up: distance of the circle's centre from it.
        distance = (corner[0] - wall_at_tip + corner[1] * math.tan(t)) * math.cos(t)
        assert_allclose(distance, edge, atol=1e-4)


@pytest.mark.parametrize("draft", [5.0, 12.0])
def test_a_pocket_with_leaning_walls_is_not_gouged(tmp_path, draft):
    pocket = cq.Workplane().workplane(offset=20).rect(50, 36).extrude(-12, taper=draft)
    document = proved(cq.Workplane().box(80, 60, 20, centered=(True, True, False)).cut(pocket), tmp_path)
    assert operations(document, "finish leaning walls")
    assert document.proof.gouged == 0.0
    assert not [x for x in document.proof.left if x.named is None]


def test_leaning_walls_followed_too_deep_are_gouged(tmp_path):
    pocket = cq.Workplane().workplane(offset=20).rect(50, 36).extrude(-12, taper=8)

    def deeper(document):
        (op,) = operations(document, "finish leaning walls")
        op.levels.bottom -= 0.4

    document = proved(cq.Workplane().box(80, 60, 20, centered=(True, True, False)).cut(pocket), tmp_path, deeper)
    assert document.proof.gouged > 0.0


@pytest.mark.parametrize("radius", [1.3, 1.8, 2.6])
def test_a_floor_radius_between_two_cutters_is_not_gouged(tmp_path, radius):
    block = cq.Workplane().box(90, 70, 24, centered=(True, True, False))
    tool = cq.Workplane().workplane(offset=24).rect(50, 40).extrude(-10).edges("|Z").fillet(7)
    part = block.cut(tool.faces("<Z").edges().fillet(radius))
    document = proved(part, tmp_path)
    assert document.proof.gouged == 0.0
    assert document.proof.left_uncut == 0.0


def test_walls_finished_down_to_the_floor_cut_into_a_larger_floor_radius(tmp_path):
    block = cq.Workplane().box(90, 70, 24, centered=(True, True, False))
    tool = cq.Workplane().workplane(offset=24).rect(50, 40).extrude(-10).edges("|Z").fillet(7)

    def lower(document):
        for op in operations(document, "finish walls"):
            op.levels.bottom = 14.0

    document = proved(block.cut(tool.faces("<Z").edges().fillet(1.8)), tmp_path, lower)
    assert document.proof.gouged > 0.0


def test_a_surface_beside_an_upright_wall_is_followed_without_touching_the_wall(tmp_path):
    # A notch with a sloping floor that rises from an upright wall: the ball keeps off the wall.
    notch = cq.Workplane("XZ").polyline([(10, 30), (10, 14), (40, 22), (40, 30)]).close().extrude(-60)
    document = proved(cq.Workplane().box(40, 60, 30, centered=False).cut(notch), tmp_path)
    assert document.proof.gouged == 0.0


def test_an_island_with_leaning_walls_is_not_gouged(tmp_path):
    # The island's foot stands 8 mm x tan 5 = 0.7 mm further out than its top, all round and at its corners.
    pocket = cq.Workplane().workplane(offset=10).rect(60, 40).extrude(-8, taper=5)
    island = cq.Workplane().workplane(offset=2).rect(20, 12).extrude(8, taper=5)
    path = tmp_path / "part.step"
    cq.exporters.export(cq.Workplane().box(80, 60, 20).cut(pocket.cut(island)), str(path))
    features = recognize(path)
    document = plan(features, {"simulate": False})
    prove(document, features, features.shape, 0.2)
    assert document.proof.gouged == 0.0
    assert [x for x in document.proof.left if x.named is None] == []


def test_a_dovetail_that_stands_is_cut_on_its_own_side_alone(tmp_path):
    # Plane geometry: beside a rail of 30 mm at its top and 10 mm high, its flanks at 60 degrees, nothing but the flank hangs over.
    lean = 10.0 / math.tan(math.radians(60.0))
    rail = [(15 - lean, 10), (15, 20), (-15, 20), (lean - 15, 10)]
    profile = cq.Workplane("YZ").polyline([(-40, 0), (40, 0), (40, 10), *rail, (-40, 10)]).close()
    document = proved(profile.extrude(60), tmp_path)
    assert operations(document, "mill undercut (dovetail cutter)")
    assert document.proof.gouged == 0.0
    assert document.proof.left_uncut == 0.0


def test_a_boss_within_a_groove_round_its_foot_is_a_wall_of_the_face_below(tmp_path):
    # Solid geometry: the groove at the foot of a boss 24 mm wide begins 3 mm over the face and is 2 mm deep.
    body = cq.Workplane().circle(40).extrude(10).faces(">Z").workplane().circle(12).extrude(25)
    groove = cq.Workplane().workplane(offset=10).circle(12).circle(10).extrude(3)
    document = proved(body.cut(groove), tmp_path)
    assert operations(document, "rough planar face")
    assert document.proof.gouged == 0.0
