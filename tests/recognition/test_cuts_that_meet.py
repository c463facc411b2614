"""Cuts that share a level, a floor or a corner, and walls that are nothing but radii. Truth by construction."""

from math import cos, pi, sin, tan

import cadquery as cq
import pytest
from cadquery import Solid, Vector, Workplane


def _box(x, y, z, at=(0, 0, 0)):
    return Workplane().box(x, y, z, centered=(True, True, False)).translate(at)


def _rod(radius, height, at, way=(0, 0, 1)):
    return Workplane(Solid.makeCylinder(radius, height, Vector(*at), Vector(*way)))


def _named(document, *kinds):
    return [f for f in document.features if f.kind in kinds]


def _cuts(document):
    return sorted(f.kind for f in document.features if f.kind != "planar_face")


def _closed(document):
    assert document.closure.unexplained < 1e-3 * document.closure.removed
    assert all(f.feature for f in document.faces)


def test_a_pocket_whose_walls_are_radii_from_floor_to_mouth(features_of):
    """Balls of 8 mm in the corners: corner and floor radius are the depth."""
    tool = _box(34, 14, 8, (0, 0, 22))
    for x, y, way, length in (
        (-17, -7, (1, 0, 0), 34),
        (-17, 7, (1, 0, 0), 34),
        (-17, -7, (0, 1, 0), 14),
        (17, -7, (0, 1, 0), 14),
    ):
        tool = tool.union(_rod(8, length, (x, y, 30), way))
    for x, y in ((-17, -7), (-17, 7), (17, -7), (17, 7)):
        tool = tool.union(Workplane(Solid.makeSphere(8, Vector(x, y, 30), angleDegrees1=-90, angleDegrees2=90)))
    document = features_of(_box(80, 60, 30).cut(tool))
    (pocket,) = _named(document, "closed_pocket")
    wanted = {"length": 50, "width": 30, "depth": 8, "corner_radius": 8, "floor_radius": 8}
    assert pocket.dimensions == pytest.approx(wanted, abs=1e-3)
    assert (pocket.bottom_condition, pocket.closed_sides) == ("planar", 4)
    _closed(document)


def test_a_channel_between_two_quarter_rounds(features_of):
    part = _box(80, 60, 30).cut(_box(24, 60, 8, (0, 0, 22)))
    for x in (-12, 12):
        part = part.cut(_rod(8, 60, (x, -30, 30), (0, 1, 0)))
    document = features_of(part)
    (slot,) = _named(document, "slot")
    assert slot.dimensions == pytest.approx({"length": 60, "width": 40, "depth": 8, "floor_radius": 8}, abs=1e-3)
    assert slot.profile == "rounded_u"
    _closed(document)


def test_scallops_on_one_level_are_one_cut_each(features_of):
    part = _box(100, 50, 20)
    for x in (-35, -5, 30):
        part = part.cut(_rod(9, 8, (x, -29, 12)))
    assert _cuts(features_of(part)) == ["open_pocket"] * 3


def test_a_scallop_that_a_slot_crosses_stays_one(features_of):
    part = _box(100, 50, 20).cut(_rod(20, 8, (0, -25, 12))).cut(_box(6, 50, 12, (0, 0, 8)))
    assert _cuts(features_of(part)) == ["open_pocket", "slot"]


@pytest.mark.parametrize("count", [2, 6])
def test_grooves_round_a_shaft_are_one_cut_each(features_of, count):
    """Their roots are pieces of one cylinder, their ends of one plane; between them is the shaft."""
    ring = Workplane().circle(20).circle(12).extrude(25).translate((0, 0, 35))
    part = Workplane().circle(15).extrude(60)
    for k in range(count):
        part = part.cut(ring.intersect(_box(20, 5, 25, (10, 0, 35))).rotate((0, 0, 0), (0, 0, 1), 360 / count * k))
    document = features_of(part)
    assert _cuts(document) == ["open_pocket"] * count + ["outside_profile"]
    assert {round(f.dimensions["depth"], 3) for f in _named(document, "open_pocket")} == {25.0}
    _closed(document)


def test_drilled_corners_of_a_pocket_right_through(features_of):
    """Its walls meet nowhere; 6 mm cutters come as far as the reliefs."""
    part = _box(80, 60, 20).cut(_box(40, 30, 20))
    for x, y in ((-20, -15), (-20, 15), (20, -15), (20, 15)):
        part = part.cut(_rod(3, 20, (x, y, 0)))
    document = features_of(part)
    assert _cuts(document) == ["closed_pocket"] + ["round_hole"] * 4
    (pocket,) = _named(document, "closed_pocket")
    wanted = {"length": 40, "width": 30, "depth": 20, "corner_radius": 3}
    assert pocket.dimensions == pytest.approx(wanted, abs=1e-3)
    assert pocket.bottom_condition == "through"
    _closed(document)


def test_a_shoulder_with_a_drilled_foot_is_a_step(features_of):
    part = _box(80, 60, 30).cut(_box(40, 60, 12, (20, 0, 18))).cut(_rod(1.5, 60, (0, -30, 18), (0, 1, 0)))
    document = features_of(part)
    assert _cuts(document) == ["round_hole", "step"]
    (step,) = _named(document, "step")
    assert step.dimensions == pytest.approx({"length": 60, "width": 40, "depth": 12}, abs=1e-3)
    _closed(document)


def test_a_keyholes_slot_ends_at_the_floor_that_the_hole_owns(features_of):
    part = _box(80, 40, 20).cut(_rod(8, 10, (-15, 0, 10)))
    part = part.cut(Workplane().slot2D(40, 7).extrude(10).translate((2, 0, 10)))
    document = features_of(part)
    (slot,) = _named(document, "open_pocket")
    assert slot.bottom_condition == "planar"  # not right through
    assert slot.dimensions["width"] == pytest.approx(7.0)
    assert slot.views[0].narrowest_gap == pytest.approx(7.0, abs=0.01)
    _closed(document)


def _tee(turn=0.0):
    tool = _box(120, 10, 12, (0, 0, 18)).union(_box(120, 20, 7, (0, 0, 12)))
    return tool.rotate((0, 0, 0), (0, 0, 1), turn)


TEE = {"width": 10, "foot_width": 20, "depth": 18, "foot_height": 7}


@pytest.mark.parametrize("turn", [90.0, 60.0])
def test_two_tee_slots_that_cross(features_of, turn):
    document = features_of(_box(80, 80, 30).cut(_tee()).cut(_tee(turn)))
    tees = _named(document, "undercut")
    assert [{k: f.dimensions[k] for k in TEE} for f in tees] == [pytest.approx(TEE)] * 2
    assert all(f.views[0].reachable for f in tees)
    _closed(document)


@pytest.mark.parametrize("depth", [8, 11, 15, 18, 26])
def test_a_slot_across_a_tee_slot(features_of, depth):
    """Above the foot's ceiling, level with it, in the foot, level with its floor, and below."""
    document = features_of(_box(80, 60, 30).cut(_tee()).cut(_box(8, 60, depth, (0, 0, 30 - depth))))
    (tee,) = _named(document, "undercut")
    assert {k: tee.dimensions[k] for k in TEE} == pytest.approx(TEE)
    (slot,) = _named(document, "slot", "open_pocket")
    assert (slot.dimensions["width"], slot.dimensions["depth"]) == pytest.approx((8.0, depth))
    _closed(document)


FOOT = 8 + 10 / tan(pi / 3)


def _dovetail(start, end):
    section = Workplane("YZ").polyline([(-8, 30), (-FOOT, 20), (FOOT, 20), (8, 30)]).close()
    return section.extrude(end - start).translate((start, 0, 0))


def test_a_dovetail_slot_with_the_hole_by_which_its_cutter_enters(features_of):
    part = _box(90, 60, 30).cut(_dovetail(-10, 45)).cut(_rod(FOOT, 10, (-10, 0, 20)))
    document = features_of(part)
    (cut,) = _named(document, "undercut")
    assert _cuts(document) == ["undercut"]
    assert cut.dimensions == pytest.approx({"length": 55, "width": 16, "depth": 10, "flank_angle": 60}, abs=1e-3)
    _closed(document)


def test_dovetail_slots_that_cross_each_other_or_a_deeper_slot(features_of):
    crossed = _dovetail(-40, 40).rotate((0, 0, 0), (0, 0, 1), 90)
    document = features_of(_box(80, 80, 30).cut(_dovetail(-40, 40)).cut(crossed))
    assert _cuts(document) == ["undercut", "undercut"]
    assert all(f.views[0].reachable for f in document.features)
    _closed(document)
    document = features_of(_box(80, 60, 30).cut(_dovetail(-40, 40)).cut(_box(10, 60, 15, (0, 0, 15))))
    assert _cuts(document) == ["slot", "undercut"]
    _closed(document)


@pytest.mark.parametrize("shape", ["gear", "ratchet", "sprocket"])
def test_toothed_outlines_are_one_outside(features_of, shape):
    def at(radius, turn):
        return radius * cos(turn), radius * sin(turn)

    turns = [2 * pi * k / 14 for k in range(14)]
    if shape == "gear":
        points = [at(r, t + a) for t in turns for r, a in ((20, -0.15), (28, -0.06), (28, 0.06), (20, 0.15))]
    else:
        points = [at(r, t + a) for t in turns for r, a in ((25, 0.0), (20, 0.43))]
    part = Workplane().polyline(points).close().extrude(8)
    if shape == "sprocket":
        part = Workplane().circle(30).extrude(6)
        for t in turns:
            part = part.cut(_rod(4, 6, (*at(30, t), 0)))
    document = features_of(part.cut(_rod(5, 8, (0, 0, 0))))
    assert _cuts(document) == ["outside_profile", "round_hole"]
    assert len(_named(document, "outside_profile")[0].faces) == len(document.faces) - 3
    _closed(document)


def test_a_groove_of_a_ball_nose_is_no_socket(features_of):
    tool = _rod(5, 40, (-20, 0, 30), (1, 0, 0))
    for x in (-20, 20):
        tool = tool.union(Workplane(Solid.makeSphere(5, Vector(x, 0, 30), angleDegrees1=-90, angleDegrees2=90)))
    (cut,) = (f for f in features_of(_box(90, 60, 30).cut(tool)).features if f.kind != "planar_face")
    assert (cut.kind, cut.bottom_condition) == ("closed_pocket", "radiused")


def test_a_groove_at_the_foot_of_a_boss_on_a_square_plate(features_of):
    groove = Workplane().circle(13).circle(10).extrude(3).translate((0, 0, 10))
    document = features_of(_box(60, 60, 10).union(_rod(12, 25, (0, 0, 10))).cut(groove))
    assert _cuts(document) == ["boss", "undercut"]
    (cut,) = _named(document, "undercut")
    assert (cut.dimensions["groove_diameter"], cut.dimensions["height"]) == pytest.approx((20.0, 3.0))
    _closed(document)


def test_a_hole_under_a_cone_is_seen_from_below(features_of):
    """The cone's facets are as long as it is high; they pass the hole's side, above its floor."""
    outline = Workplane("XZ").polyline([(0, 0), (30, 0), (30, 8), (15, 40), (0, 40)]).close()
    part = outline.revolve(360, (0, 0, 0), (0, 1, 0)).cut(_rod(3, 15, (22, 0, 0)))
    (hole,) = _named(features_of(part), "round_hole")
    assert [(v.direction, v.reachable) for v in hole.views] == [((0.0, 0.0, -1.0), True)]


def test_a_kernels_torus_with_its_normals_the_wrong_way_is_refused(tmp_path):
    """As it comes out of a mirrored part's file: its volume would be larger than that of its blank."""
    from recognizer import recognize
    from shared.errors import UnsoundSolid
    from tests.random_parts.cases import build
    from tests.random_parts.changes import changed

    path, _ = changed(build("ball_race", 1), "mirrored", 1, tmp_path)
    with pytest.raises(UnsoundSolid, match="contradict"):
        recognize(path)


def test_drafted_pockets_free_form_corner_radii_belong_to_it(features_of):
    tool = Workplane(origin=(0, 0, 40)).rect(60, 40).extrude(-20, taper=8)
    tool = tool.edges("not(#Z)").edges("not(|X or |Y)").fillet(5).faces("<Z").edges().fillet(3)
    document = features_of(_box(90, 70, 40).cut(tool))
    (pocket,) = (f for f in document.features if f.kind != "planar_face")
    assert pocket.kind == "closed_pocket"
    assert (pocket.dimensions["corner_radius"], pocket.dimensions["floor_radius"]) == pytest.approx(
        (5.0, 3.0), abs=1e-3
    )
    _closed(document)


def test_a_round_hollow_corner_is_named_from_where_an_end_mill_leaves_it(features_of):
    """15 mm each way: from above its radius is a corner's, from two sides a floor's."""
    tool = cq.Workplane().box(30, 30, 30).edges("|Z").fillet(6).translate((40, -30, 40))
    (cut,) = (f for f in features_of(_box(80, 60, 40).cut(tool)).features if f.kind != "planar_face")
    assert cut.views[0].direction == (0.0, 0.0, 1.0)
    assert cut.dimensions["corner_radius"] == pytest.approx(6.0)
