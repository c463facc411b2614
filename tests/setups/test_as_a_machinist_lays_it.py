"""Parts lie flat where that saves deep walls, corners are cut beside the jaws, edges are eased when their walls are done."""

from __future__ import annotations

import cadquery as cq
import pytest

from planner import plan
from recognizer import recognize


def box(x: float, y: float, z: float) -> cq.Workplane:
    return cq.Workplane("XY").box(x, y, z, centered=(True, True, False))


def planned(tmp_path, part, **job):
    path = tmp_path / "part.step"
    cq.exporters.export(part, str(path))
    return plan(recognize(path), job)


def operations(result):
    return [op for setup in result.setups for op in setup.operations]


def test_a_plate_with_a_hole_through_its_edge_is_not_milled_standing(tmp_path):
    """Walls 76 mm deep in the setup that drills the hole, or 19 mm deep in those that face the plate: three setups either way."""
    part = box(101.6, 76.2, 19.05).cut(cq.Workplane("XZ").center(0, 9.5).circle(3.175).extrude(99, both=True))
    part = part.cut(box(50, 25, 10).edges("|Z").fillet(6.35).translate((0, 0, 9.05)))
    result = planned(tmp_path, part, simulate=False)
    assert len(result.setups) == 3
    walls = [op for op in operations(result) if op.name.endswith("outside")]
    assert walls and max(op.levels.top - op.levels.bottom for op in walls) == pytest.approx(19.05)


def test_a_chamfer_does_not_stand_a_plate_on_edge(tmp_path):
    """Upright walls 60 mm deep would break two more edges than a chamfer cutter from above: those two are filed."""
    result = planned(tmp_path, box(100, 60, 30).edges("|Y and >Z and >X").chamfer(1.5), simulate=False)
    assert {tuple(round(c) for c in s.direction) for s in result.setups} == {(0, 0, 1), (0, 0, -1)}


def test_chamfered_corners_need_no_setups_of_their_own(tmp_path):
    """Four upright chamfers: milled beside jaws that are short enough, in the two setups that face the plate."""
    result = planned(tmp_path, box(60, 60, 30).edges("|Z").chamfer(5))
    assert len(result.setups) == 2 and not result.proof.checker and result.proof.gouged == 0
    assert not result.proof.collisions and not result.unplanned
    (mill,) = [op for op in operations(result) if op.name == "mill chamfer"]
    assert len(mill.features) == 4  # in one go
    (held,) = [c for c in result.clampings for s in result.setups if s.clamping == c.id and mill in s.operations]
    # 60 mm, a chamfer of 5 at each end, and the 20 mm cutter past it: its radius less its share at 45 degrees is 2.93 mm
    assert held.jaw_width is not None and held.jaw_width <= 60.0 - 2.0 * (5.0 + 2.93)


def test_corners_too_wide_to_leave_room_for_jaws_are_not_cut_beside_them(tmp_path):
    """60 - 2 (12.5 + 12.4) = 10 mm are left for jaws, and the shortest at hand has 25."""
    result = planned(tmp_path, box(60, 60, 30).edges("|Z").chamfer(12.5), simulate=False)
    assert "mill chamfer" not in [op.name for op in operations(result)]


def test_edges_are_eased_after_the_walls_that_meet_there(tmp_path):
    """A machinist chamfers last: walls of the same setup are finished before the chamfer along them."""
    result = planned(tmp_path, box(80, 60, 30).faces(">Z").edges().chamfer(2), simulate=False)
    for setup in result.setups:
        names = [op.name for op in setup.operations]
        if "chamfer" in names:
            assert "finish outside" not in names[names.index("chamfer") :]
            assert names.count("chamfer") == 1
            break
    else:
        raise AssertionError("no chamfer is planned")


def test_a_tapped_hole_is_chamfered_between_drill_and_tap(tmp_path):
    part = box(60, 40, 20).faces(">Z").workplane().cskHole(8.5, 9.6, 90, 15)
    result = planned(tmp_path, part, simulate=False, threads={"8.5": "M10"})
    names = [op.name for op in operations(result)]
    assert names.index("drill") < names.index("chamfer") < names.index("tap")


def test_no_rest_cut_for_less_than_the_finish_takes_anyhow(tmp_path):
    """Corners of 10 mm after a 20 mm cutter with 0.3 mm left: (sqrt 2 - 1) 0.3 = 0.12 mm more than elsewhere in the corner."""
    pocket = box(120, 80, 15).edges("|Z").fillet(10).translate((0, 0, 15))
    result = planned(tmp_path, box(160, 120, 30).cut(pocket))
    names = [op.name for op in operations(result)]
    assert "finish walls" in names and not [n for n in names if n.startswith("rest")]
    assert not result.proof.checker and not [f for f in result.findings if f.code == "removes_nothing"]


def test_a_keyway_waits_for_its_bore(tmp_path):
    """Its only open side is the bore: nothing comes in there before the bore is made, and a drill would run off into it."""
    part = box(60, 60, 25).cut(cq.Workplane("XY").circle(12).extrude(25)).cut(box(8, 8, 25).translate((0, 11.3, 0)))
    result = planned(tmp_path, part, simulate=False)
    assert not [f for f in result.findings if f.code == "order_cycle"]
    names = [op.name for op in operations(result)]
    (bore,) = [i for i, op in enumerate(operations(result)) if op.name == "drill" and op.tool.DC == 24.0]
    assert bore < names.index("rough open pocket")


def split_clamp() -> cq.Workplane:
    """A clamp block with a round top, a bore, a slit down to it, and a counterbored screw across the slit."""
    part = box(50, 30, 60).edges("|Y and >Z").fillet(24.9)
    part = part.cut(cq.Workplane("XZ").center(0, 35).circle(12.5).extrude(40, both=True))
    part = part.cut(box(3, 30, 40).translate((0, 0, 40)))
    part = part.cut(cq.Workplane("YZ").center(0, 53).circle(3.3).extrude(60, both=True))
    return part.cut(cq.Workplane("YZ").center(0, 53).circle(5.5).extrude(20).translate((12, 0, 0)))


def test_a_hole_out_of_a_round_side_waits_for_that_side(tmp_path):
    """Its rim dips where it breaks out at the side, so that no end of the rim's edge lies at the mouth's level."""
    result = planned(tmp_path, split_clamp())
    assert not result.proof.collisions and not result.proof.checker
    names = [op.name for op in operations(result)]
    assert max(i for i, n in enumerate(names) if n == "mill round the outside") < names.index("mill counterbore")
    slit = next(op for op in operations(result) if op.name == "rough slot")
    assert (
        slit.faces and "finish walls" not in names
    )  # 3 mm wide, cut by a 3 mm cutter: there is nothing left to finish
    assert not [f for f in result.findings if f.code == "removes_nothing" and slit.feature in f.features]


def test_a_side_that_facings_beside_it_trim_can_be_rested_on(tmp_path):
    """An angle with a round end: its upright side, cut with the outline, lies below when the holes in it are drilled."""
    part = cq.Workplane("XY").moveTo(-50, -20).lineTo(30, -20).threePointArc((50, 0), (30, 20)).lineTo(-50, 20).close()
    part = part.extrude(12).union(box(12, 40, 40).translate((-44, 0, 0)))
    part = part.cut(cq.Workplane("YZ").pushPoints([(10, 30), (-10, 30)]).circle(3.3).extrude(-100))
    result = planned(tmp_path, part, simulate=False)
    assert not [f for f in result.proof.checker if f.code == "raw_side_gone"]
    rest = [c.rest_on for c in result.clampings if c.rest_side == "-x"]
    assert all(text.startswith("finished") for text in rest)


def test_a_gap_that_no_cutter_passes_is_left_and_not_scratched_at(tmp_path):
    """Screw posts 1 mm off the walls, 15 mm deep: a 1.5 mm cutter ten diameters long would leave them joined all the same."""
    part = box(120, 80, 18).edges("|Z").fillet(8).cut(box(112, 72, 15).edges("|Z").fillet(4))
    for x, y in ((50, 30), (-50, 30), (50, -30), (-50, -30)):
        part = part.union(cq.Workplane("XY").center(x, y).circle(5).extrude(18))
    result = planned(tmp_path, part)
    assert [f for f in result.findings if f.code == "gap_left"]
    ends = [op for op in operations(result) if op.name in ("finish walls", "finish corners")]
    assert ends and min(op.tool.DC for op in ends) >= 15.0 / 5.0 and sum(op.minutes for op in ends) < 2.0
    assert not [f for f in result.proof.checker if f.code in ("cutter_does_not_fit", "left_uncut")]


def test_a_large_cutter_finishes_walls_with_small_corners_too(tmp_path):
    """Corners of 2 mm in a pocket of 100 x 60: the small cutter only goes into the corners."""
    part = box(140, 100, 25).cut(box(100, 60, 10).edges("|Z").fillet(2).translate((0, 0, 15)))
    result = planned(tmp_path, part)
    walls, corners = ([op for op in operations(result) if op.name == f"finish {w}"] for w in ("walls", "corners"))
    assert walls and corners and walls[0].tool.DC >= 2 * corners[0].tool.DC and corners[0].tool.DC <= 4.0
    assert not result.proof.checker and result.proof.gouged == 0 and not result.proof.left


def test_a_vee_is_shaped_down_to_its_bottom(tmp_path):
    """30 mm wide: the 90 degree cutter that is as wide has a tip of its own, and stays above by what that lacks."""
    vee = cq.Workplane("XZ").polyline([(-15, 30.01), (15, 30.01), (0, 15)]).close().extrude(60, both=True)
    result = planned(tmp_path, box(80, 60, 30).cut(vee))
    shaped = [op for op in operations(result) if op.name == "mill vee"]
    assert shaped and shaped[-1].levels.bottom == pytest.approx(15.0, abs=0.02) and shaped[-1].tool.DC <= 0.05
    for op in shaped[:-1]:  # half its tip over the tangent of half its angle
        assert op.levels.bottom - 15.0 == pytest.approx(op.tool.DC / 2.0, abs=0.02)
    assert not result.proof.checker and not result.proof.left and result.proof.gouged == 0


def test_a_leaning_wall_is_cut_by_its_angle(tmp_path):
    """7 mm over 20: its angle is atan 0.35, 19.29 degrees; by 18.92 (the sine for the angle) it was gouged."""
    cut = cq.Workplane("XZ").polyline([(10, 40), (45, 40), (45, 20), (17, 20)]).close().extrude(60, both=True)
    path = tmp_path / "leaning.step"
    cq.exporters.export(box(80, 50, 40).cut(cut), str(path))
    document = recognize(path)
    (step,) = [f for f in document.features if f.kind == "step"]
    (view,) = [v for v in step.views if v.direction[2] > 0.99]
    assert max(s.draft for s in view.sides) == pytest.approx(19.2900, abs=1e-3)
    result = plan(document)
    assert not result.proof.checker and result.proof.gouged == 0
    assert not [c for c in result.clampings if c.device == "fixture"]


def test_a_dovetail_without_a_cutter_is_opened_and_names_it(tmp_path):
    """Flanks of 55 degrees: the default table has 45 and 60."""
    foot = 12 + 8 * 0.7002
    tail = cq.Workplane("XZ").polyline([(-12, 25), (12, 25), (foot, 17), (-foot, 17)]).close().extrude(60, both=True)
    result = planned(tmp_path, box(80, 60, 25).cut(tail))
    assert not result.unplanned and not result.proof.checker
    assert [op for op in operations(result) if op.name == "rough middle"]
    (said,) = [f for f in result.findings if f.code == "partly_uncut"]
    assert "dovetail cutter with flanks of 55 degrees" in said.message


def test_a_counterbore_inside_is_drilled_as_far_as_it_goes(tmp_path):
    """Sunk from within a frame, where nothing comes to it: the hole is drilled from outside, the rest is said."""
    part = box(80, 40, 50).cut(box(60, 40, 26).translate((0, 0, 12)))
    part = part.cut(cq.Workplane("XY").circle(4.5).extrude(12).translate((0, 0, 38)))
    part = part.cut(cq.Workplane("XY").circle(9).extrude(3).translate((0, 0, 38)))
    result = planned(tmp_path, part)
    assert not result.unplanned and [op for op in operations(result) if op.name == "drill" and op.tool.DC == 9.0]
    assert {f.code for f in result.findings} >= {"hole_step_hidden", "partly_uncut"}
    assert not result.proof.checker
