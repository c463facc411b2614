"""Chains of bores. Truth by construction: each part is a block and the cylinders cut into it."""

from collections import Counter
from math import pi, radians, tan

import cadquery as cq
import pytest


def block(x: float = 60, y: float = 40, z: float = 30) -> cq.Workplane:
    return cq.Workplane().box(x, y, z, centered=False)


def bore(part: cq.Workplane, x: float, y: float, top: float, depth: float, diameter: float) -> cq.Workplane:
    tool = cq.Workplane().workplane(offset=top - depth).center(x, y).circle(diameter / 2).extrude(depth)
    return part.cut(tool)


def kinds(document) -> Counter:
    return Counter(f.kind for f in document.features if f.kind != "planar_face")


def test_counterbore_a_hundredth_off_axis_is_two_holes_and_said(features_of):
    part = bore(bore(block(), 20, 20, 30, 8, 15), 20.02, 20, 30, 30, 9)
    document = features_of(part)
    notes = [f for f in document.findings if f.code == "near_miss_axis"]
    assert len(notes) == 1 and "0.02 mm off axis" in notes[0].message
    assert kinds(document)["counterbore_hole"] == 0


def test_counterbore_on_axis_is_one_hole_without_a_note(features_of):
    document = features_of(bore(bore(block(), 20, 20, 30, 8, 15), 20, 20, 30, 30, 9))
    assert kinds(document) == {"counterbore_hole": 1}
    assert not [f for f in document.findings if f.code == "near_miss_axis"]


def test_counterbore_cut_off_from_its_bore_by_a_slot_is_one_hole(features_of):
    part = bore(bore(block(), 30, 20, 30, 8, 15), 30, 20, 30, 30, 6)
    slot = cq.Workplane().box(60, 10, 10, centered=False).translate((0, 15, 12))
    document = features_of(part.cut(slot))
    assert kinds(document)["counterbore_hole"] == 1, kinds(document)


def test_facing_blind_holes_with_solid_between_stay_two(features_of):
    part = bore(block(), 20, 20, 30, 10, 8)
    part = part.cut(cq.Workplane().center(20, 20).circle(4).extrude(10))
    document = features_of(part)
    holes = [f for f in document.features if f.kind == "round_hole"]
    assert len(holes) == 2 and all(h.bottom_condition == "flat" for h in holes)


def test_hole_across_a_gap_is_one(features_of):
    part = bore(block(), 20, 20, 30, 30, 8)
    slot = cq.Workplane().box(60, 40, 10, centered=False).translate((0, 0, 10))
    slot = slot.intersect(cq.Workplane().box(40, 40, 30, centered=False))
    document = features_of(part.cut(slot))
    holes = [f for f in document.features if f.kind == "round_hole"]
    assert len(holes) == 1 and holes[0].bottom_condition == "through"


def test_ring_groove_round_a_bore_is_a_pocket_with_an_island_and_a_hole(features_of):
    ring = cq.Workplane().workplane(offset=27).center(30, 20).circle(16).circle(13).extrude(3)
    document = features_of(bore(block(), 30, 20, 30, 30, 20).cut(ring))
    assert kinds(document) == {"round_hole": 1, "closed_pocket": 1}


def test_blind_hole_with_a_floor_radius_is_not_through(features_of):
    tool = cq.Workplane().workplane(offset=15).center(20, 20).circle(8).extrude(15).faces("<Z").edges().fillet(2)
    document = features_of(block().cut(tool))
    hole = next(f for f in document.features if f.kind == "round_hole")
    assert hole.bottom_condition == "flat_with_radius"
    assert not hole.views[0].through


def test_counterbore_whose_inner_edge_is_rounded_is_one_hole(features_of):
    part = bore(bore(block(), 20, 20, 30, 8, 15), 20, 20, 30, 30, 9)
    inner = part.edges(cq.selectors.BoxSelector((14, 14, 21.9), (26, 26, 22.1))).edges("%circle").edges(
        cq.selectors.RadiusNthSelector(0)
    )  # fmt: skip
    document = features_of(inner.fillet(1))
    assert kinds(document) == {"counterbore_hole": 1, "edge_round": 1}


def test_ring_groove_with_a_radius_at_its_islands_foot_is_no_hole(features_of):
    ring = cq.Workplane().workplane(offset=20).center(30, 20).circle(16).circle(8).extrude(10)
    part = block().cut(ring)
    foot = part.edges(cq.selectors.BoxSelector((21.9, 11.9, 19.9), (38.1, 28.1, 20.1))).edges(
        cq.selectors.RadiusNthSelector(0)
    )
    document = features_of(foot.fillet(2))
    assert kinds(document) == {"closed_pocket": 1}
    pocket = next(f for f in document.features if f.kind == "closed_pocket")
    assert pocket.views[0].islands == 1


def test_blind_hole_with_a_square_boss_on_its_floor_is_a_pocket_with_an_island(features_of):
    boss = cq.Workplane().box(8, 8, 10, centered=False).translate((26, 16, 20))
    document = features_of(bore(block(), 30, 20, 30, 10, 30).union(boss).edges("|Z").fillet(1))
    assert kinds(document)["round_hole"] == 0
    pocket = next(f for f in document.features if f.kind == "closed_pocket")
    assert pocket.views[0].islands == 1


def test_a_groove_in_a_bores_wall_is_an_undercut_and_the_bore_a_plain_hole(features_of):
    """A retaining ring's groove: without it the bore would be a stepped hole that nothing reaches."""
    part = bore(bore(block(), 20, 20, 30, 30, 20), 20, 20, 20, 3, 24)
    document = features_of(part)
    assert kinds(document) == {"round_hole": 1, "undercut": 1}
    hole = next(f for f in document.features if f.kind == "round_hole")
    groove = next(f for f in document.features if f.kind == "undercut")
    assert hole.bottom_condition == "through" and sum(v.reachable for v in hole.views) == 2
    assert groove.inside == [hole.id] and len(groove.faces) == 3
    assert groove.removal_volume == pytest.approx(pi * (12**2 - 10**2) * 3, rel=1e-6)
    assert any("must pass 20 mm" in f.hint for f in document.findings)


def test_a_relief_at_the_bottom_of_a_blind_bore_is_a_groove(features_of):
    part = bore(bore(block(), 20, 20, 30, 25, 20), 20, 20, 8, 3, 23)
    assert kinds(features_of(part)) == {"round_hole": 1, "undercut": 1}


def test_counterbores_at_both_ends_have_no_groove(features_of):
    part = bore(bore(bore(block(), 20, 20, 30, 30, 9), 20, 20, 30, 8, 15), 20, 20, 8, 8, 15)
    assert kinds(features_of(part))["undercut"] == 0


def point(part: cq.Workplane, x: float, y: float, level: float, diameter: float, angle: float) -> cq.Workplane:
    """A drill's point below a level."""
    depth = diameter / 2 / tan(radians(angle / 2))
    return part.cut(cq.Workplane(cq.Solid.makeCone(0, diameter / 2, depth, cq.Vector(x, y, level - depth))))


def test_a_drills_point_that_a_cross_hole_opened_stays_a_point(features_of):
    part = point(bore(block(60, 40, 40), 30, 20, 40, 25, 10), 30, 20, 15, 10, 118)
    part = part.cut(cq.Workplane("YZ").center(20, 14).circle(3).extrude(60))
    document = features_of(part)
    assert kinds(document) == {"round_hole": 2}
    drilled = next(f for f in document.features if f.dimensions.get("diameter") == pytest.approx(10))
    assert drilled.bottom_condition == "conical" and drilled.dimensions["depth"] == pytest.approx(25)


def test_a_bore_that_tapers_to_a_small_mouth_is_no_drills_point(features_of):
    """A nozzle: 60 degrees down to 4 mm in the far side."""
    part = bore(block(), 30, 20, 30, 24, 10)
    nozzle = cq.Solid.makeCone(5 - 6 * tan(radians(30)), 5, 6, cq.Vector(30, 20, 0))
    document = features_of(part.cut(cq.Workplane(nozzle)))
    assert kinds(document) == {"stepped_hole": 1}


def test_bearing_seats_at_both_ends_are_reached_though_a_bore_crosses_between_them(features_of):
    """The wider seat behind the narrow bore is cut from its own end: what stands before it there is not in the way."""
    part = block(90, 50, 50).cut(cq.Workplane("YZ").center(25, 25).circle(11).extrude(90))
    for x in (0, 80):
        part = part.cut(cq.Workplane("YZ", origin=(x, 0, 0)).center(25, 25).circle(16).extrude(10))
    part = part.cut(cq.Workplane("XZ").center(45, 25).circle(15).extrude(-26))
    document = features_of(part)
    seats = next(f for f in document.features if f.kind == "stepped_hole")
    assert sorted(v.direction for v in seats.views if v.reachable) == [(-1.0, 0.0, 0.0), (1.0, 0.0, 0.0)]
