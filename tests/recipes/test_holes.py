"""Holes: spot, drill, peck, floors, counterbores, countersinks, steps, taps."""

from __future__ import annotations

from typing import Any

import pytest

from planner.cutting import point_length
from planner.recipes import Recipe, operations_for
from planner.recipes.drilling import drill_break_through, peck
from shared.cutters import CutterTable, default_cutters
from shared.features import Axis, Feature
from shared.plan import Operation
from tests.recipes.hand import UP, cone, cylinder, document, feature, hole, job, rectangle, view


def plan(cut: Feature, *others: Feature, **more: Any) -> Recipe:
    return operations_for(cut, cut.views[0], job(**more), document(cut, *others))


def named(recipe: Recipe) -> list[str]:
    return [op.name for op in recipe.operations]


def one(recipe: Recipe, name: str) -> Operation:
    return next(op for op in recipe.operations if op.name == name)


def test_through_hole_of_17_5_goes_3_mm_past_at_full_diameter() -> None:
    """Source: common practice, no source (about 3 mm); ISO 2306: 17.5 is the M20 tap drill; point D / (2 tan 59)."""
    recipe = plan(hole(40, cylinder(17.5, 40, 0)))
    drill = one(recipe, "drill")
    assert drill.tool.DC == 17.5
    assert drill.levels.break_through == pytest.approx(3.0)
    assert point_length(17.5, 118) == pytest.approx(5.26, abs=0.005)
    assert drill.path_length >= 40 + 3.0 + 5.25
    assert any("M20" in f.message for f in recipe.findings if f.code == "may_be_tapped")


def test_90_degree_spot_drill_of_16_is_full_at_8() -> None:
    """Source: common practice, no source; geometry D / (2 tan 45)."""
    spot = one(plan(hole(40, cylinder(17.5, 40, 0))), "spot")
    assert spot.tool.DC == 16.0 and spot.tool.SIG == 90.0
    assert spot.levels.top - spot.levels.bottom == pytest.approx(8.0)
    assert any("full at 8 mm" in text for text in spot.because)


@pytest.mark.parametrize(("diameter", "past"), [(3.0, 1.0), (8.0, 1.6), (17.5, 3.0), (20.0, 3.0)])
def test_break_through_stays_within_1_to_3_mm(diameter: float, past: float) -> None:
    """Source: common practice, from memory: 1 to 3 mm or 0.1 to 0.3 D."""
    assert drill_break_through(diameter) == pytest.approx(past)


@pytest.mark.parametrize(
    ("ratio", "strategy"),
    [(2.9, "one stroke"), (3.0, "one stroke"), (4.0, "chip break"), (6.0, "full retract"), (12.0, "full retract")],
)
def test_pecking_by_depth_over_diameter(ratio: float, strategy: str) -> None:
    """Source: usual set, from memory: up to 3 D direct, 3 to 5 D chip-break, 5 to 10 D full retract."""
    count, found, _ = peck(10.0 * ratio, 10.0, ratio)
    assert found == strategy
    assert (count == 1) == (strategy == "one stroke")


def test_very_deep_hole_is_warned_of() -> None:
    assert "deep_hole" in [f.code for f in plan(hole(60, cylinder(5, 60, 0))).findings]
    assert "deep_hole" not in [f.code for f in plan(hole(45, cylinder(5, 45, 0))).findings]


def test_spot_before_drill_before_tap() -> None:
    """Source: common practice; M12 with 10.2 by ISO 2306, pitch 1.75 by ISO 261."""
    recipe = plan(hole(30, cylinder(10.2, 30, 0)), threads={"10.2": "M12"})
    assert named(recipe) == ["spot", "drill", "tap"]
    tap = recipe.operations[-1]
    assert tap.tool.TDZ == "M12"
    assert tap.feed == pytest.approx(tap.speed * 1.75)
    assert [op.after for op in recipe.operations] == [[], ["a"], ["b"]]


def test_tap_drill_size_alone_is_a_hint_never_a_tap() -> None:
    recipe = plan(hole(30, cylinder(10.2, 30, 0)))
    assert named(recipe) == ["spot", "drill"]
    hints = [f for f in recipe.findings if f.code == "may_be_tapped"]
    assert len(hints) == 1 and "M12" in hints[0].hint


def test_blind_thread_leaves_the_run_out_of_din_76() -> None:
    """Source: DIN 76-2: e1 of pitch 1.5 is 7.3 mm: in a 25 mm hole M10 is at most 17.7 deep."""
    cut = hole(25, cylinder(8.5, 25, 0), cone(8.5, 0, 0, -2.55, 118), through=False, condition="conical")
    tap = one(plan(cut, threads={"F1": "M10"}), "tap")
    assert tap.levels.bottom == pytest.approx(7.3)
    assert tap.levels.break_through == 0.0


@pytest.mark.parametrize("size", ["M20", "M13", "M8"])
def test_thread_that_does_not_suit_the_hole_is_refused_and_said(size: str) -> None:
    recipe = plan(hole(30, cylinder(10.2, 30, 0)), threads={"10.2": size})
    assert "tap" not in named(recipe)
    assert "thread_not_planned" in [f.code for f in recipe.findings]


def test_blind_hole_too_short_for_its_thread_is_not_tapped() -> None:
    cut = hole(8, cylinder(10.2, 8, 0), through=False, condition="conical")
    assert "tap" not in named(plan(cut, threads={"10.2": "M12"}))


def test_drill_leaves_a_flat_floor_to_an_end_mill() -> None:
    recipe = plan(hole(25, cylinder(10, 25, 0), through=False))
    assert named(recipe) == ["spot", "drill", "finish floor"]
    drill, floor = one(recipe, "drill"), one(recipe, "finish floor")
    assert drill.levels.bottom == pytest.approx(point_length(10, 118)), "the tip touches the floor, no deeper"
    assert floor.levels.bottom == 0.0 and floor.tool.kind == "endmill"
    assert floor.faces == [1] and drill.faces == [0]


def test_drills_own_point_needs_no_floor() -> None:
    cut = hole(25, cylinder(8.5, 25, 0), cone(8.5, 0, 0, -2.55, 118), through=False, condition="conical")
    recipe = plan(cut)
    assert named(recipe) == ["spot", "drill"]
    assert recipe.operations[-1].levels.bottom == pytest.approx(0.0), "the full diameter's depth: the cone is extra"


def test_spherical_floor_takes_a_ball_end_mill() -> None:
    recipe = plan(hole(20, cylinder(10, 20, 0), through=False, condition="spherical"))
    drill, ball = recipe.operations[-2:]
    assert drill.levels.bottom == pytest.approx(0.0), "the full diameter ends where the ball begins"
    assert ball.tool.kind == "ball_endmill" and ball.tool.DC == 10.0
    assert ball.levels.bottom == pytest.approx(-5.0), "half a diameter below the end of the cylinder"


@pytest.mark.parametrize("radius", [0.5, 1.0])
def test_floor_with_a_radius_takes_a_cutter_with_it(radius: float) -> None:
    cut = hole(
        20, cylinder(10, 20, 0), through=False, condition="flat_with_radius", dimensions={"floor_radius": radius}
    )
    assert radius == plan(cut).operations[-1].tool.RE


def test_floor_with_an_unknown_radius_is_not_guessed() -> None:
    recipe = plan(hole(20, cylinder(10, 20, 0), through=False, condition="flat_with_radius"))
    assert named(recipe) == ["spot", "drill"] and recipe.unplanned and "radius" in recipe.unplanned


def test_large_hole_is_milled_round_with_a_smaller_cutter() -> None:
    recipe = plan(hole(25, cylinder(40, 25, 0)))
    assert named(recipe) == ["mill hole"]
    assert recipe.operations[0].tool.DC < 40
    assert recipe.operations[0].entry.startswith("plunge_helix")
    assert recipe.operations[0].levels.break_through == 1.0


def test_hole_between_drill_sizes_is_brought_to_size() -> None:
    recipe = plan(hole(25, cylinder(14.3, 25, 0)))
    assert recipe.unplanned is None
    assert recipe.operations[-1].faces == [0]
    assert all(op.tool.kind != "twist_drill" or op.tool.DC < 14.3 for op in recipe.operations)


def test_tiny_hole_between_drill_sizes_is_refused_with_reason() -> None:
    recipe = plan(hole(3, cylinder(0.37, 3, 0)))
    assert not recipe.operations and recipe.unplanned and "0.37" in recipe.unplanned


def test_counterbore_is_milled_with_a_cutter_smaller_than_it_after_the_drill() -> None:
    """Source: common practice, no source; DIN 974-1: 18 mm is the counterbore of M10, ISO 273: 11 its clearance."""
    recipe = plan(hole(30, cylinder(18, 30, 20), cylinder(11, 20, 0), kind="counterbore_hole"))
    assert named(recipe) == ["spot", "drill", "mill counterbore"]
    bore = recipe.operations[-1]
    assert bore.tool.DC < 18 and bore.levels.bottom == 20.0 and bore.faces == [0]
    assert any("M10" in text for text in bore.because)


def test_countersink_has_the_cones_angle_and_covers_its_mouth() -> None:
    """Source: DIN 74-F: M8 18.25 at 90 degrees."""
    recipe = plan(hole(30, cone(18.25, 9, 30, 25.375, 90), cylinder(9, 25.375, 0), kind="countersunk_hole"))
    assert named(recipe) == ["spot", "drill", "countersink"]
    sink = recipe.operations[-1]
    assert sink.tool.SIG == 90 and (sink.tool.DCX or 0) >= 18.25
    assert sink.kind == "counter_sinking"
    assert any("M8" in text for text in sink.because)


@pytest.mark.parametrize(
    ("angle", "kind"), [(82, "countersink"), (90, "countersink"), (120, "countersink"), (100, "ball_endmill")]
)
def test_cone_is_never_made_with_a_cutter_of_another_angle(angle: float, kind: str) -> None:
    """Source: inch flat heads 82 degrees, from memory."""
    recipe = plan(hole(30, cone(12, 6, 30, 27, angle), cylinder(6, 27, 0), kind="countersunk_hole"))
    sink = one(recipe, "countersink")
    assert sink.tool.kind == kind and sink.faces == [0]
    assert kind == "ball_endmill" or angle == sink.tool.SIG


def test_mouth_chamfer_is_made_by_the_spot_drill() -> None:
    recipe = plan(hole(25, cone(10.5, 8.5, 25, 24, 90), cylinder(8.5, 24, 0)))
    assert named(recipe) == ["spot", "drill"]
    spot = recipe.operations[0]
    assert spot.faces == [0]
    assert spot.levels.top - spot.levels.bottom == pytest.approx(10.5 / 2)


def test_stepped_hole_goes_from_the_narrowest_to_the_widest() -> None:
    recipe = plan(hole(30, cylinder(30, 30, 25), cylinder(18, 25, 10), cylinder(11, 10, 0), kind="stepped_hole"))
    assert named(recipe) == ["spot", "drill", "mill shoulder", "mill shoulder"]
    assert [op.levels.bottom for op in recipe.operations[1:]] == [0.0, 10.0, 25.0]
    assert [op.faces for op in recipe.operations[1:]] == [[2], [1], [0]]


def test_step_behind_a_narrower_one_is_not_claimed_to_be_cut() -> None:
    recipe = plan(hole(30, cylinder(10, 30, 20), cylinder(18, 20, 0), kind="stepped_hole"))
    assert recipe.unplanned and "18" in recipe.unplanned
    assert all(1 not in op.faces for op in recipe.operations)


def test_hole_seen_from_its_far_end_has_its_levels_turned() -> None:
    cut = hole(30, cylinder(10, 30, 20), cylinder(18, 20, 0), kind="stepped_hole")
    below = cut.views[0].model_copy(update={"direction": (0.0, 0.0, -1.0), "top": 0.0, "bottom": -30.0})
    recipe = operations_for(cut, below, job(), document(cut))
    assert recipe.unplanned is None
    assert named(recipe) == ["spot", "drill", "mill shoulder"]
    assert recipe.operations[-1].levels.bottom == pytest.approx(-20.0)
    assert recipe.operations[1].levels.bottom == pytest.approx(-30.0)


def test_hole_in_a_deep_pocket_needs_a_long_drill() -> None:
    outer = feature(view("closed_pocket", 50.0, bottom=40.0, top=90.0, **rectangle(60, 60)), id="outer")
    cut = hole(40, cylinder(5, 40, 0)).model_copy(update={"inside": ["outer"]})
    alone = one(plan(hole(40, cylinder(5, 40, 0))), "drill").tool
    recipe = plan(cut, outer)
    assert recipe.unplanned or (one(recipe, "drill").tool.LU or 0) > (alone.LU or 0)


def test_no_drill_that_reaches_is_refused() -> None:
    recipe = plan(hole(150, cylinder(3, 150, 0)))
    assert not recipe.operations or recipe.unplanned
    assert recipe.unplanned and "150" in recipe.unplanned


def test_users_drill_is_used_where_the_table_has_it() -> None:
    table = CutterTable(
        "mine", tuple(t for t in default_cutters().tools if t.kind in ("twist_drill", "center_drill") and t.DC <= 16)
    )
    recipe = plan(hole(20, cylinder(10, 20, 0)), cutters=table)
    assert named(recipe) == ["spot", "drill"]
    assert plan(hole(20, cylinder(25, 20, 0)), cutters=table).unplanned


@pytest.mark.parametrize(("width", "spotted"), [(5.0, False), (8.0, True)])
def test_a_spot_drill_fits_beside_the_walls_round_the_mouth(width: float, spotted: bool) -> None:
    """A 2 mm hole in the middle of a slot: the smallest spot drill has 6 mm, so beside walls 2.5 mm away it finds no room."""
    slot = feature(view("slot", 10.0, top=20.0, bottom=10.0, **rectangle(60, width, "-x +x")), id="slot")
    cut = hole(10.0, cylinder(2.0, 10.0, 0.0), id="hole", inside=["slot"])
    cut = cut.model_copy(update={"axis": Axis(origin=(30.0, width / 2.0, 10.0), direction=UP)})
    recipe = operations_for(cut, cut.views[0], job(), document(cut, slot))
    assert ("spot" in [op.name for op in recipe.operations]) is spotted
    assert any(f.code == "no_spot_drill" for f in recipe.findings) is not spotted
    assert recipe.operations[-1].name == "drill"
