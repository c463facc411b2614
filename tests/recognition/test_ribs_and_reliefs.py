"""Ribs that lean on a pocket's floor and round reliefs in a pocket's corners. Truth by construction."""

import cadquery as cq
import pytest


def test_the_leaning_top_of_a_rib_is_no_part_of_the_step_round_it(features_of):
    """An angle with a gusset: the step's region leaves the gusset out, so that no cutter is sent through it."""
    part = cq.Workplane().box(60, 40, 8, centered=False).union(cq.Workplane().box(8, 40, 50, centered=False))
    rib = cq.Workplane("XZ").moveTo(8, 8).lineTo(40, 8).lineTo(8, 40).close().extrude(-6).translate((0, 17, 0))
    document = features_of(part.union(rib))
    step = next(f for f in document.features if pytest.approx(f.dimensions.get("depth", 0.0)) == 42.0)
    assert step.views[0].region_area == pytest.approx(52 * 40 - 32 * 6, rel=1e-6)
    assert step.views[0].closed_sides == 4  # the angle's wall, the gusset's two sides and its foot
    assert [f.kind for f in document.features if f.kind not in ("planar_face", step.kind)] == ["region"]


def test_round_corner_reliefs_belong_to_their_pocket(features_of):
    part = cq.Workplane().box(80, 60, 20, centered=False)
    part = part.cut(cq.Workplane().box(40, 30, 10, centered=False).translate((20, 15, 10)))
    for x, y in ((20, 15), (60, 15), (20, 45), (60, 45)):
        part = part.cut(cq.Workplane().workplane(offset=10).center(x, y).circle(3).extrude(10))
    document = features_of(part)
    pocket = next(f for f in document.features if f.kind != "planar_face")
    assert [f.kind for f in document.features if f.kind != "planar_face"] == ["closed_pocket"]
    assert pocket.views[0].corner_radius == pytest.approx(3.0)


def test_a_blind_hole_that_breaks_into_a_deeper_pocket_stays_a_hole(features_of):
    part = cq.Workplane().box(80, 60, 20, centered=False)
    part = part.cut(cq.Workplane().box(40, 30, 14, centered=False).translate((20, 15, 6)))
    part = part.cut(cq.Workplane().workplane(offset=10).center(19, 30).circle(4).extrude(10))
    document = features_of(part)
    assert sorted(f.kind for f in document.features if f.kind != "planar_face") == ["closed_pocket", "round_hole"]


def test_flanks_of_a_vee_groove_are_no_chamfers_of_its_relief_slot(features_of):
    part = cq.Workplane().box(60, 40, 40, centered=False)
    part = part.cut(cq.Workplane("YZ").moveTo(5, 40).lineTo(35, 40).lineTo(20, 25).close().extrude(60))
    part = part.cut(cq.Workplane().box(60, 2, 6, centered=False).translate((0, 19, 22)))
    document = features_of(part)
    assert "chamfer" not in {f.kind for f in document.features}
    vee = max(document.features, key=lambda f: f.removal_volume)
    assert (vee.kind, vee.profile, vee.views[0].direction) == ("slot", "vee", (0.0, 0.0, 1.0))
    # Down to where its flanks end: the tip, 2 mm wide and 1 mm deep, goes with the relief slot.
    assert vee.removal_volume == pytest.approx(13500 - 60, rel=1e-6)


def test_chamfers_at_a_slots_mouth_are_chamfers(features_of):
    part = cq.Workplane().box(60, 40, 40, centered=False)
    part = part.cut(cq.Workplane().box(60, 8, 10, centered=False).translate((0, 16, 30)))
    part = part.edges(cq.selectors.BoxSelector((-1, 15.9, 39.9), (61, 24.1, 40.1))).edges("|X").chamfer(2)
    assert [f.kind for f in features_of(part).features].count("chamfer") == 2
