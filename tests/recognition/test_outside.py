"""Outsides that are no plain block: arcs and one flat, arms, ears and a slit, polygons, grooves. Truth by construction."""

from math import cos, pi, sin

import cadquery as cq
import pytest


def _box(x0, y0, z0, x1, y1, z1):
    return cq.Workplane().box(x1 - x0, y1 - y0, z1 - z0, centered=False).translate((x0, y0, z0))


def _rod(at, direction, diameter, length):
    return cq.Workplane(cq.Solid.makeCylinder(diameter / 2, length, cq.Vector(*at), cq.Vector(*direction)))


def _kinds(document):
    return sorted(f.kind for f in document.features if f.kind != "planar_face")


def _closed(document):
    assert document.closure.unexplained < 1e-3 * document.closure.removed
    assert all(f.feature for f in document.faces)
    assert not [f for f in document.findings if f.code == "face_claimed_twice"]


def test_a_disc_with_one_flat_has_one_outline(features_of):
    document = features_of(cq.Workplane().circle(40).extrude(15).cut(_box(25, -50, 0, 60, 50, 15)))
    assert _kinds(document) == ["outside_profile"]
    _closed(document)


def test_cross_holes_in_a_round_side_leave_its_outline_whole(features_of):
    """The holes' edges lie on the same arc as the rim, with other points."""
    part = cq.Workplane().circle(45).extrude(50).faces(">Z or <Z").edges().chamfer(3)
    document = features_of(part.cut(_rod((0, 0, 25), (1, 0, 0), 10, 60)))
    outline = next(f for f in document.features if f.kind == "outside_profile")
    assert outline.removal_volume == pytest.approx((90 * 90 - pi * 45 * 45) * 50, rel=2e-3)
    _closed(document)


def test_a_hub_with_arms_is_one_outline_with_sharp_inner_corners(features_of):
    part = cq.Workplane().circle(30).extrude(10)
    for turn in (0, 120, 240):
        arm = _box(0, -10, 0, 90, 10, 10).edges("|Z and >X").fillet(9.9)
        part = part.union(arm.rotate((0, 0, 0), (0, 0, 1), turn))
    document = features_of(part.cut(_rod((0, 0, 0), (0, 0, 1), 12, 10)))
    assert _kinds(document) == ["outside_profile", "round_hole"]
    assert next(f for f in document.features if f.kind == "outside_profile").views[0].corner_radius == 0.0
    _closed(document)


def test_the_slit_of_a_clamp_ring_is_a_slot_of_its_own(features_of):
    part = _rod((0, 0, 0), (0, 0, 1), 60, 20).union(_box(20, -12, 0, 45, 12, 20))
    part = part.cut(_rod((0, 0, 0), (0, 0, 1), 40, 20)).cut(_box(15, -1.5, 0, 60, 1.5, 20))
    document = features_of(part)
    assert _kinds(document) == ["outside_profile", "round_hole", "slot"]
    slit = next(f for f in document.features if f.kind == "slot")
    assert slit.dimensions["width"] == pytest.approx(3.0) and slit.views[0].through
    _closed(document)


def test_a_notch_square_to_the_box_stays_a_cut_of_its_own(features_of):
    part = _box(0, 0, 0, 60, 40, 10).union(_rod((0, 20, 0), (0, 0, 1), 40, 10)).cut(_box(25, 0, 0, 40, 12, 10))
    document = features_of(part)
    assert _kinds(document) == ["outside_profile", "slot"]
    _closed(document)


def test_sides_of_a_hexagon_are_no_chamfers(features_of):
    part = cq.Workplane().polygon(6, 50).extrude(20).cut(_rod((0, 0, 0), (0, 0, 1), 8, 20))
    document = features_of(part)
    assert _kinds(document) == ["outside_profile", "round_hole"]
    _closed(document)


def test_a_long_hexagonal_bar_is_not_milled_round_from_its_end(features_of):
    document = features_of(cq.Workplane().polygon(6, 20).extrude(80))
    assert _kinds(document) == []
    _closed(document)


def test_corner_chamfers_that_meet_stay_chamfers(features_of):
    """Three of them at a corner of a block bend by 60 degrees, as the sides of a hexagon do."""
    document = features_of(_box(0, 0, 0, 40, 30, 20).edges().chamfer(3))
    assert set(_kinds(document)) == {"chamfer", "region"} or set(_kinds(document)) == {"chamfer"}
    assert _kinds(document).count("chamfer") == 12


def test_a_groove_round_a_shaft_is_an_undercut_and_its_outline_stays_one(features_of):
    groove = _rod((0, 0, 20), (0, 0, 1), 60, 4).cut(_rod((0, 0, 20), (0, 0, 1), 34, 4))
    document = features_of(cq.Workplane().circle(20).extrude(60).cut(groove))
    assert _kinds(document) == ["outside_profile", "undercut"]
    cut = next(f for f in document.features if f.kind == "undercut")
    size = {"groove_diameter": 34, "outer_diameter": 40, "height": 4, "side": 3}
    assert cut.dimensions == pytest.approx(size, abs=1e-6)
    assert cut.removal_volume == pytest.approx(pi * (20**2 - 17**2) * 4, rel=2e-3)
    _closed(document)


def test_a_wall_along_a_spline_closes_the_volume(features_of):
    """The kernel's integral over a swept spline was 0.4 % of the part off: it stepped over the spline's knots."""
    part = _box(0, 0, 0, 90, 60, 20)
    wire = cq.Workplane().moveTo(10, -5).lineTo(80, -5).lineTo(80, 20)
    wire = wire.spline([(60, 38), (45, 30), (25, 42), (10, 25)], includeCurrent=True).close()
    document = features_of(part.cut(wire.extrude(12).translate((0, 0, 8))))
    assert _kinds(document) == ["open_pocket"]
    _closed(document)


def test_lobes_of_a_knob_are_one_outline(features_of):
    part = cq.Workplane().circle(20).extrude(15)
    for k in range(6):
        part = part.cut(_rod((24 * cos(k * pi / 3), 24 * sin(k * pi / 3), 0), (0, 0, 1), 14, 15))
    document = features_of(part)
    assert _kinds(document) == ["outside_profile"]
    _closed(document)


def test_slots_in_a_ring_are_as_wide_whichever_way_they_point(features_of):
    """An open end lies on the ring's rim, not on the box round it."""
    part = cq.Workplane().circle(50).extrude(8).cut(_rod((0, 0, 0), (0, 0, 1), 70, 8))
    for turn in range(0, 360, 45):
        part = part.cut(_box(42, -2, 4, 60, 2, 8).rotate((0, 0, 0), (0, 0, 1), turn + 7))
    slots = [f for f in features_of(part).features if f.kind == "open_pocket"]
    assert len(slots) == 8
    assert all(f.views[0].narrowest_gap == pytest.approx(4.0, rel=1e-3) for f in slots)
    ends = [p for f in slots for s in f.views[0].sides if s.open for p in (s.start, s.end)]
    assert all((x * x + y * y) ** 0.5 == pytest.approx(50, abs=0.01) for x, y, _ in ends)


def _wave(turn, r=30.0, share=0.15):
    angles = [2 * pi * i / 24 for i in range(24)]
    return [
        (r * (1 + share * sin(3 * a)) * cos(a + turn), r * (1 + share * sin(3 * a)) * sin(a + turn)) for a in angles
    ]


def test_a_cam_is_one_outline_of_free_form(features_of):
    document = features_of(cq.Workplane().spline(_wave(0.3), periodic=True).close().extrude(15))
    assert _kinds(document) == ["outside_profile"]
    _closed(document)


def test_a_block_with_one_wavy_side_keeps_its_plain_sides(features_of):
    """The wave is a fifth of the outline: no cam, and its faces are named as what no rule explains."""
    edge = [(80 - 5 * i, 40 + 2 * sin(pi * i / 4)) for i in range(17)]
    part = (
        cq.Workplane()
        .moveTo(0, 0)
        .lineTo(80, 0)
        .lineTo(80, 40)
        .spline(edge[1:], includeCurrent=True)
        .close()
        .extrude(15)
    )
    document = features_of(part)
    assert "outside_profile" not in _kinds(document)
    assert all(f.feature for f in document.faces)


@pytest.mark.parametrize("degrees", [0, 37, 211])
def test_a_clamp_turned_in_space_reads_the_same(features_of, degrees):
    """Walls square to an axis have points whose first coordinates differ by rounding only."""
    part = _rod((0, 0, 0), (0, 0, 1), 60, 20).union(_box(20, -12, 0, 45, 12, 20))
    part = part.cut(_rod((0, 0, 0), (0, 0, 1), 40, 20)).cut(_box(15, -1.5, 0, 60, 1.5, 20))
    document = features_of(part.rotate((0, 0, 0), (1, 2, 3), degrees))
    assert _kinds(document) == ["outside_profile", "round_hole", "slot"]
    outline = next(f for f in document.features if f.kind == "outside_profile")
    assert sorted(outline.dimensions.values()) == pytest.approx([20, 60, 75], abs=1e-3)
    _closed(document)
