"""Every recipe of issue 5's list on a part cut for it, from the STEP file to the operations, in the trade's words.

Figures by eye from the parts' own sizes. Rules of the trade as in `planner/recipes/practice.py`: common practice, no
source; run-outs by DIN 76-2, counterbores by DIN 974-1 (checks.md 1).
"""

from __future__ import annotations

import cadquery as cq
import pytest

from planner import plan
from recognizer import recognize
from shared.cutters import TABLES


def block(x=100.0, y=60.0, z=30.0):
    return cq.Workplane("XY").box(x, y, z, centered=(True, True, False))


def on_top(part, z=30.0):
    return part.faces(">Z").workplane(origin=(0, 0, z))


@pytest.fixture
def planned(tmp_path):
    """(part, job) -> operations from +z where there are any, else of all setups; and the plan."""

    def made(part, **job):
        path = tmp_path / "part.step"
        cq.exporters.export(part, str(path))
        result = plan(recognize(path), {"simulate": False} | job)
        assert result.proof.checker == [] and result.unplanned == []
        return result

    return made


def of(result, kind):
    """Operations on features of a kind, in order."""
    return [op for s in result.setups for op in s.operations if any(f.startswith(kind) for f in op.features)]


def called(result, name):
    found = [op for s in result.setups for op in s.operations if op.name == name]
    assert found, f"no operation is called {name!r}"
    return found


def names(operations):
    return list(dict.fromkeys(op.name for op in operations))


def test_facing_in_one_pass_or_in_parallel_ones(planned):
    narrow = called(planned(block(100, 40)), "face")[0]
    assert narrow.tool.kind == "facemill" and narrow.passes.radial_count == 1 and narrow.tool.DC > 40
    wide = [op for op in called(planned(block(200, 154)), "face") if op.passes.radial_count > 1]
    assert wide and wide[0].tool.DC == 100 and wide[0].strategy == "bidirectional"


def test_outside_profile_rough_and_finish_past_the_bottom(planned):
    plate = cq.Workplane("XY").slot2D(100, 50).extrude(15)
    found = of(planned(plate), "outside_profile")
    assert names(found) == ["rough outside", "finish outside"]
    assert found[-1].levels.break_through == 1.0 and found[-1].entry.startswith("from outside")


def test_step_in_offsets_all_of_one_level_before_the_next(planned):
    part = block().cut(cq.Workplane("XY").box(100, 25, 18, centered=(True, False, False)).translate((0, 5, 12)))
    rough = next(op for op in of(planned(part), "step") if op.name == "rough step")
    assert rough.passes.axial_count > 1 and rough.passes.radial_count > 1
    assert rough.passes.radial_count * rough.passes.radial_depth >= 25.0, "the whole width"
    assert any("all of one level before the next" in text for text in rough.because)


def test_slot_full_width_has_its_own_depth_limit_a_wide_one_is_a_pocket(planned):
    narrow = block().cut(cq.Workplane("XY").box(100, 3, 3, centered=(True, True, False)).translate((0, 0, 27)))
    rough = of(planned(narrow), "slot")[0]
    assert rough.strategy == "center_milling" and rough.tool.DC == 3 and rough.passes.radial_count == 1
    assert rough.passes.axial_depth <= 0.25 * 3 + 1e-9, "a quarter of the diameter where it is buried"
    wide = block().cut(cq.Workplane("XY").box(100, 30, 12, centered=(True, True, False)).translate((0, 0, 18)))
    rough = of(planned(wide), "slot")[0]
    assert rough.strategy == "contour_parallel" and rough.passes.radial_count > 1
    assert rough.passes.axial_depth == pytest.approx(0.5 * rough.tool.DC, rel=0.2)


def rounded(x, y, z, radius, at=(0.0, 0.0, 0.0)):
    return cq.Workplane("XY").box(x, y, z, centered=(True, True, False)).edges("|Z").fillet(radius).translate(at)


def shop(tmp_path, keep, *more):
    """A cutter file of the default table's rows that `keep(kind, DC)` keeps, and more rows."""
    head, *rows = (TABLES / "cutters.csv").read_text().splitlines()
    kept = [r for r in rows if keep(r.split(",")[1], float(r.split(",")[2]))]
    (tmp_path / "shop.csv").write_text("\n".join([head, *kept, *more]))
    return str(tmp_path / "shop.csv")


def test_open_pocket_from_outside_closed_ones_by_helix_or_ramp(planned, tmp_path):
    part = block().cut(rounded(60, 30, 12, 6, (40, 0, 18)))
    assert {op.entry for op in of(planned(part), "open_pocket") if op.name.startswith("rough")} == {
        "from outside at an open side"
    }
    closed = of(planned(block().cut(rounded(50, 30, 12, 6, (0, 0, 18)))), "closed_pocket")
    assert closed[0].entry.startswith("plunge_helix")
    six = shop(tmp_path, lambda kind, size: kind != "endmill" or size >= 6.0)
    narrow = of(planned(block().cut(rounded(60, 6.5, 5, 3.2, (0, 0, 25))), tools=six), "closed_pocket")
    assert narrow[0].entry.startswith("plunge_ramp")


def test_islands_stay_and_their_walls_are_finished(planned):
    part = block().cut(rounded(80, 44, 12, 6, (0, 0, 18)).cut(rounded(24, 14, 12, 3, (0, 0, 18))))
    result = planned(part)
    pocket = of(result, "closed_pocket")
    assert names(pocket)[0] == "rough closed pocket" and "finish walls" in names(pocket)
    walls = next(op for op in pocket if op.name == "finish walls")
    assert len(walls.faces) == 16, "four walls and four corners of the pocket, as many of the island"
    assert walls.tool.DC <= 15.0, "it passes beside the island: (44 - 14) / 2 = 15 mm"


def test_through_pocket_goes_past_the_bottom_and_has_no_floor(planned):
    pocket = of(planned(block(z=12).cut(rounded(50, 30, 12, 6))), "closed_pocket")
    assert "finish floor" not in names(pocket) and {op.levels.break_through for op in pocket} == {1.0}


def test_floor_radius_is_never_cut_with_a_larger_edge_radius(planned):
    pocket = rounded(50, 30, 12, 6, (0, 0, 18)).faces("<Z").edges().fillet(2.0)
    found = of(planned(block().cut(pocket)), "closed_pocket")
    assert all(op.tool.RE <= 2.0 for op in found)
    assert any(abs(op.tool.RE - 2.0) < 0.01 for op in found), "one of them has the floor's own radius"


def test_drafted_walls_are_followed_with_a_ball_or_bull_nose(planned):
    pocket = cq.Workplane("XY").workplane(offset=30).rect(60, 36).extrude(-12, taper=5)
    found = of(planned(block().cut(pocket)), "closed_pocket")
    followed = [
        op for op in found if op.tool.kind in ("ball_endmill", "bullnose_endmill") or "lean" in " ".join(op.because)
    ]
    assert followed and found[0].name.startswith("rough")


def test_rough_with_allowance_then_walls_and_floor(planned):
    found = of(planned(block().cut(rounded(50, 30, 12, 6, (0, 0, 18)))), "closed_pocket")
    rough = found[0]
    assert (rough.passes.allowance_side, rough.passes.allowance_bottom) == (0.3, 0.2)
    assert names(found)[1] == "finish floor" and found[1].tool == rough.tool, "with the cutter in hand"
    assert names(found)[-1] == "finish walls" and found[-1].passes.allowance_side == 0.0


def test_rest_corners_with_the_cutter_that_fits_and_the_one_before_named(planned):
    found = of(planned(block().cut(rounded(60, 40, 12, 3.5, (0, 0, 18)))), "closed_pocket")
    rest = [op for op in found if op.name.startswith("rest rough")]
    before = [found[0], *rest]
    assert rest and rest[-1].tool.DC <= 7.0
    for op, larger in zip(rest, before, strict=False):
        assert op.because[0].startswith(f"the {larger.tool.DC:g} mm cutter of the operation before leaves")


def test_holes_by_depth_spot_then_one_stroke_chip_break_or_pecks(planned):
    part = on_top(block(z=60), 60)
    part = part.pushPoints([(-30, 0)]).hole(10, 25).faces(">Z").workplane(origin=(0, 0, 60))
    part = (
        part.pushPoints([(0, 0)])
        .hole(10, 45)
        .faces(">Z")
        .workplane(origin=(0, 0, 60))
        .pushPoints([(30, 0)])
        .hole(5, 45)
    )
    drills = [op for op in of(planned(part), "round_hole") if op.name == "drill"]
    assert {op.strategy for op in drills} == {"one stroke", "chip break", "full retract"}
    spots = [op for op in of(planned(part), "round_hole") if op.name == "spot"]
    assert spots and all(op.kind == "center_drilling" for op in spots)


def test_holes_by_tolerance_reamed_or_bored(planned, tmp_path):
    notes = tmp_path / "notes.toml"
    notes.write_text('[[tolerance]]\ndiameter = 10\ngrade = "H7"\n[[tolerance]]\ndiameter = 33\ngrade = "H7"\n')
    part = on_top(on_top(block()).pushPoints([(-30, 0)]).hole(10)).pushPoints([(15, 0)]).hole(33)
    result = planned(part, notes=str(notes))
    ream, bore = called(result, "ream")[0], called(result, "bore")[0]
    assert (ream.tool.kind, ream.tool.DC, ream.kind) == ("reamer", 10.0, "reaming")
    assert bore.tool.kind == "boring_tool" and bore.kind == "boring"
    drilled = next(op for op in of(result, "round_hole") if op.name == "drill" and op.tool.DC < 10)
    assert 9.7 <= drilled.tool.DC <= 9.9, "0.1 to 0.3 mm are left for the reamer"


def test_threads_are_tapped_with_the_run_out_of_din_76(planned):
    """M8 in a blind hole of 20 mm: e1 is 6.2 mm (DIN 76-2, checks.md 1), so 13.8 mm of thread; M6 right through."""
    part = on_top(block(z=24), 24).pushPoints([(-30, 0)]).hole(6.8, 20).faces(">Z").workplane(origin=(0, 0, 24))
    part = part.pushPoints([(30, 0)]).hole(5.0).cut(rounded(20, 20, 12, 6, (30, 0, 12)))
    taps = called(planned(part, threads={"6.8": "M8", "5": "M6"}), "tap")
    by_size = {op.tool.TDZ: op for op in taps}
    assert by_size["M8"].levels.top - by_size["M8"].levels.bottom == pytest.approx(20 - 6.2)
    assert by_size["M8"].feed == pytest.approx(by_size["M8"].speed * 1.25), "rigid: feed is speed times pitch"
    assert by_size["M6"].levels.break_through > 0


def test_counterbore_milled_or_sunk_with_its_own_tool(planned, tmp_path):
    part = on_top(block()).cboreHole(6.6, 11.0, 6.4)
    milled = of(planned(part), "counterbore")
    assert names(milled) == ["spot", "drill", "mill counterbore"] and milled[-1].tool.DC < 11.0
    sunk = of(planned(part, tools=shop(tmp_path, lambda kind, size: kind != "endmill" or size > 9.0)), "counterbore")
    assert names(sunk) == ["spot", "drill", "counterbore"]
    assert (sunk[-1].tool.kind, sunk[-1].tool.DC, sunk[-1].tool.DN) == ("counterbore", 11.0, 6.6)
    assert sunk[-1].levels.top - sunk[-1].levels.bottom == pytest.approx(6.4)


def test_countersink_with_a_cutter_of_its_angle(planned):
    found = of(planned(on_top(block()).cskHole(6.6, 13.0, 90)), "countersunk")
    assert names(found) == ["spot", "drill", "countersink"]
    assert found[-1].tool.SIG == 90 and (found[-1].tool.DCX or found[-1].tool.DC) >= 13.0


def test_back_side_counterbore_through_the_hole(planned, tmp_path):
    """A counterbore of 15 mm on the far side of a plate: with a back counterbore one setup does it, without it takes two."""
    part = on_top(block(z=20), 20).hole(9.0)
    part = part.cut(cq.Workplane("XY").circle(7.5).extrude(8.6))
    part = part.cut(cq.Workplane("XY").circle(12.0).extrude(4.0).translate((0, 0, 16)))
    both_ends = planned(part)
    mine = shop(tmp_path, lambda kind, size: True, "BC15,backside_counterbore,15,0,,60,1,,,,,8,HSS,own")
    result = planned(part, tools=mine)
    back = called(result, "back counterbore")[0]
    assert back.kind == "back_boring" and back.tool.DN == 8.0
    assert back.levels.top - back.levels.bottom == pytest.approx(8.6)
    assert any("back towards the spindle" in text for text in back.because)
    assert result.totals.setups <= both_ends.totals.setups


def test_large_holes_are_milled_down_a_helix(planned):
    found = of(planned(on_top(block()).hole(40)), "round_hole")
    assert names(found) == ["mill hole"] and found[0].entry.startswith("plunge_helix")


def test_deep_holes_are_warned_of(planned):
    result = planned(on_top(block(z=70), 70).hole(5.0, 60))
    assert any(f.code == "deep_hole" and f.severity == "warning" for f in result.findings)


def test_edges_are_broken_from_the_sides_that_see_them(planned):
    result = planned(block())
    breaks = called(result, "break edges")
    assert all(op.tool.kind == "countersink" and op.tool.SIG == 90 for op in breaks)
    assert all(op.levels.top > op.levels.bottom for op in breaks)
    every = [e for s in result.setups for op in s.operations for e in op.edges]
    assert len(every) == len(set(every)) >= 10, "of 12: the upright ones by the walls' finish, two are said to be left"


def test_chamfers_and_rounds_with_their_cutters(planned):
    chamfered = of(planned(block().edges(">Z and >Y").chamfer(2.0)), "chamfer")
    assert chamfered and chamfered[0].tool.kind == "countersink" and chamfered[0].tool.SIG == 90
    rounded_edge = of(planned(block().edges(">Z and >Y").fillet(3.0)), "edge_round")
    assert rounded_edge and rounded_edge[0].tool.kind == "corner_rounding_mill" and rounded_edge[0].tool.RE == 3.0


def test_undercuts_with_their_cutter_families(planned):
    tee = block().cut(cq.Workplane("XY").box(100, 10, 10, centered=(True, True, False)).translate((0, 0, 20)))
    tee = tee.cut(cq.Workplane("XY").box(100, 18, 8, centered=(True, True, False)).translate((0, 0, 12)))
    found = of(planned(tee), "undercut")
    assert found[-1].tool.kind == "t_slot_mill" and found[0].tool.kind == "endmill", "first the neck is opened"
    points = [(-15, 30), (15, 30), (15 + 10 / 3**0.5, 20), (-15 - 10 / 3**0.5, 20)]
    wedge = cq.Workplane("YZ").polyline(points).close().extrude(200, both=True)
    found = of(planned(block().cut(wedge)), "undercut")
    assert found[-1].tool.kind == "dovetail_mill"
