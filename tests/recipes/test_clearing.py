"""Steps, slots, pockets, outside: cutter choice, levels, rest, floors, corners."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.geometry import room_for
from planner.recipes import Recipe, operations_for
from planner.recipes.practice import BULGE
from shared.cutters import CutterTable, default_cutters
from shared.features import Feature
from tests.recipes.hand import document, feature, job, rectangle, view


def plan(cut: Feature, *others: Feature, **more: Any) -> Recipe:
    return operations_for(cut, cut.views[0], job(**more), document(cut, *others))


def pocket(depth: float = 25.0, corner: float | None = 6.0, through: bool = False, **more: Any) -> Feature:
    fields = rectangle(60, 40) | {
        "corner_radius": corner, "corner_count": 0 if corner is None else 4, "largest_cutter": 40.0,
        "narrowest_gap": 40.0, "through": through, "bottom_condition": "through" if through else "planar",
    }  # fmt: skip
    return feature(view("closed_pocket", depth, **(fields | more)))


def only(*diameters: float) -> CutterTable:
    return CutterTable("test", tuple(t for t in default_cutters().tools if t.kind != "endmill" or t.DC in diameters))


@pytest.mark.parametrize(("diameter", "step"), [(20.0, 10.0), (12.0, 6.0)])
def test_end_mill_steps_half_its_diameter_down_and_over(diameter: float, step: float) -> None:
    """Source: common practice, no source: 20 mm steps 10 down and 10 over in roughing, 12 mm 6 and 6."""
    cut = feature(view("step", 24.0, **rectangle(100, 30, "-x +x -y")))
    rough = plan(cut, cutters=only(diameter)).operations[0]
    assert diameter == rough.tool.DC
    assert (rough.passes.axial_depth, rough.passes.radial_depth) == (step, step)
    assert rough.passes.axial_count == math.ceil((24.0 - 0.2) / step)
    assert rough.passes.radial_count == math.ceil(30.0 / step)


def test_through_pocket_is_cut_1_mm_past_its_bottom() -> None:
    """Source: common practice, no source."""
    recipe = plan(pocket(through=True))
    assert {op.levels.break_through for op in recipe.operations} == {1.0}
    assert {op.levels.bottom for op in recipe.operations} == {0.0}
    assert "finish floor" not in [op.name for op in recipe.operations]


def test_pocket_with_a_floor_is_not_cut_past_it() -> None:
    recipe = plan(pocket())
    assert {op.levels.break_through for op in recipe.operations} == {0.0}
    assert min(op.levels.bottom for op in recipe.operations) == 0.0
    assert recipe.operations[0].levels.bottom == pytest.approx(0.2)


def test_corners_after_a_large_cutter_get_a_rest_operation_that_names_it() -> None:
    recipe = plan(pocket(corner=6.0))
    rough, floor, rest = recipe.operations[:3]
    assert rough.tool.DC == floor.tool.DC == 20 and floor.name == "finish floor"
    assert rest.name.startswith("rest")
    assert rest.tool.DC / 2 <= 0.9 * 6.0
    assert "20 mm cutter" in rest.because[0]
    assert rest.after == [floor.id] and floor.after == [rough.id]
    assert (rest.levels.bottom, rest.passes.allowance_bottom) == (0.0, 0.0), "the corners of the floor are its own"


def test_corner_that_the_rough_cutter_turns_in_needs_no_rest() -> None:
    recipe = plan(pocket(corner=12.0))
    assert [op.name for op in recipe.operations] == ["rough closed pocket", "finish floor", "finish walls"]
    assert {op.tool.DC for op in recipe.operations} == {20.0}


def test_cutter_of_the_corners_own_radius_is_not_used_to_finish_where_a_smaller_reaches() -> None:
    """Source: common practice, from memory: tool radius up to 0.8 to 0.9 of the corner radius.

    An annex example of ISO/FDIS 14649-11 mills R10 corners with a 20 mm cutter: not a model.
    """
    walls = plan(pocket(corner=10.0)).operations[-1]
    assert walls.name == "finish walls" and walls.tool.DC <= 18.0


def test_sharp_corners_are_said_with_what_is_left() -> None:
    recipe = plan(pocket(corner=0.0))
    found = [f for f in recipe.findings if f.code == "sharp_corner"]
    radius = recipe.operations[-1].tool.DC / 2
    assert len(found) == 1
    assert f"{(1 - math.pi / 4) * radius**2:.2f} mm2" in found[0].message
    assert f"{(math.sqrt(2) - 1) * radius:.2f} mm across" in found[0].message
    assert radius < recipe.operations[0].tool.DC / 2


def test_rest_chain_steps_down_without_a_jump() -> None:
    tools = [op.tool.DC for op in plan(pocket(corner=2.0)).operations if "rough" in op.name]
    assert tools[0] == 20 and tools[-1] <= 3.6
    assert all(b >= 0.4 * a for a, b in zip(tools, tools[1:], strict=False))


def test_closed_pocket_is_entered_by_helix_or_ramp_never_by_plunging() -> None:
    wide = plan(pocket()).operations[0]
    assert wide.entry.startswith("plunge_helix")
    narrow = feature(view("closed_pocket", 6.0, largest_cutter=10.0, narrowest_gap=10.0, **rectangle(60, 10)))
    only_tens = CutterTable(
        "test", tuple(t for t in default_cutters().tools if t.DC == 9 or t.DC == 10 or t.kind == "tap")
    )
    assert plan(narrow, cutters=only_tens).operations[0].entry.startswith("plunge_ramp")


def test_open_side_is_entered_from_outside() -> None:
    cut = feature(view("open_pocket", 10.0, corner_radius=8.0, corner_count=2, **rectangle(60, 40, "-x")))
    assert plan(cut).operations[0].entry == "from outside at an open side"


def test_slot_takes_a_cutter_that_leaves_an_allowance_on_both_walls() -> None:
    cut = feature(view("slot", 10.0, largest_cutter=12.0, narrowest_gap=12.0, **rectangle(100, 12, "-x +x")))
    rough = plan(cut).operations[0]
    assert rough.tool.DC + 2 * rough.passes.allowance_side <= 12.0


def test_narrow_slot_is_cut_full_width_by_the_cutter_that_just_fits() -> None:
    cut = feature(view("slot", 5.0, largest_cutter=3.0, narrowest_gap=3.0, **rectangle(50, 3, "-x +x")))
    rough = plan(cut).operations[0]
    assert rough.tool.DC == 3.0 and rough.passes.allowance_side == 0.0
    assert rough.strategy == "center_milling"


def test_edge_radius_never_exceeds_the_floor_radius() -> None:
    """Source: rule of the trade, from memory: RE <= floor radius. An annex example of ISO/FDIS 14649-11 breaks it."""
    for radius in (0.0, 0.4, 1.0, 1.7, 3.0, 6.0):
        recipe = plan(pocket(floor_radius=radius))
        assert all(radius + 1e-9 >= op.tool.RE for op in recipe.operations), radius


def test_floor_radius_is_cut_by_a_cutter_that_has_it_or_traced() -> None:
    assert 1.0 in {op.tool.RE for op in plan(pocket(floor_radius=1.0)).operations}
    traced = [op for op in plan(pocket(floor_radius=1.7, corner=8.0)).operations if op.name == "cut floor radius"]
    assert len(traced) == 1 and traced[0].passes.axial_count > 1


def test_allowance_keeps_a_smaller_edge_radius_out_of_the_fillet() -> None:
    """Source: geometry: a tool corner of radius r, offset a from wall and floor, inside a fillet R touches it where
    (R - r - a) sqrt(2) = R - r.
    """
    for fillet, edge in ((6.0, 5.0), (6.0, 0.0), (3.0, 1.0)):
        a = BULGE * (fillet - edge)
        assert (fillet - edge - a) * math.sqrt(2) == pytest.approx(fillet - edge)
        recipe = plan(pocket(floor_radius=fillet, corner=8.0))
        for op in recipe.operations:
            if "rough" in op.name:
                assert op.passes.allowance_side >= BULGE * (fillet - op.tool.RE) - 1e-3


def test_too_deep_and_narrow_is_refused_with_the_figures() -> None:
    cut = feature(view("slot", 40.0, largest_cutter=2.0, narrowest_gap=2.0, **rectangle(50, 2, "-x +x")))
    recipe = plan(cut)
    assert not recipe.operations
    assert recipe.unplanned and "40.0 mm" in recipe.unplanned and "2.00 mm" in recipe.unplanned


def test_long_reach_is_warned_of_and_fed_slower() -> None:
    shallow = plan(feature(view("slot", 5.0, largest_cutter=6.6, narrowest_gap=6.6, **rectangle(50, 6.6, "-x +x"))))
    deep = plan(feature(view("slot", 40.0, largest_cutter=6.6, narrowest_gap=6.6, **rectangle(50, 6.6, "-x +x"))))
    assert "deep_reach" in [f.code for f in deep.findings]
    assert "deep_reach" not in [f.code for f in shallow.findings]
    assert deep.operations[0].feed < shallow.operations[0].feed


def test_pocket_in_a_pocket_needs_the_reach_of_both() -> None:
    outer = feature(view("closed_pocket", 30.0, bottom=20.0, top=50.0, **rectangle(60, 60)), id="outer")
    inner = feature(
        view("closed_pocket", 20.0, largest_cutter=12.0, narrowest_gap=12.0, **rectangle(30, 12)), inside=["outer"]
    )
    assert all((op.tool.LU or 0.0) >= 50.0 for op in plan(inner, outer).operations)
    alone = plan(inner.model_copy(update={"inside": []}))
    assert any((op.tool.LU or 0.0) < 50.0 for op in alone.operations)


def test_outside_profile_takes_the_raw_sides_off() -> None:
    cut = feature(
        view("outside_profile", 50.0, through=True, length=200.0, width=154.0, region_area=0.0), faces=[3, 4, 5, 6]
    )
    with_stock, without = plan(cut, allowance=2.0), plan(cut)
    assert [op.name for op in with_stock.operations] == ["rough outside", "finish outside"]
    assert [op.name for op in without.operations] == ["finish outside"]
    assert with_stock.operations[-1].faces == [3, 4, 5, 6]
    assert with_stock.operations[-1].path_length >= 2 * (200 + 154)


def test_walls_and_floor_of_a_view_are_brought_to_size_by_it() -> None:
    cut = feature(view("step", 10.0, **rectangle(100, 30, "-x +x -y")), faces=[7, 12])
    faces = {op.name: op.faces for op in plan(cut).operations}
    assert faces == {"rough step": [], "finish floor": [7], "finish walls": [12]}


def test_room_for_a_cutter_is_the_region_less_its_corners() -> None:
    """Source: geometry: a cutter of radius r leaves (4 - pi) r2 in a rectangle's four corners."""
    seen = pocket(corner=0.0).views[0]
    room = room_for(seen, 20.0)
    assert room is not None and room.fits
    assert room.left_area == pytest.approx((4 - math.pi) * 100.0, rel=0.01)
    too_big = room_for(seen, 41.0)
    assert too_big is not None and not too_big.fits


def test_room_at_an_open_side_has_no_corners_there() -> None:
    seen = view("open_pocket", 10.0, **rectangle(60, 40, "-x"))
    room = room_for(seen, 20.0)
    assert room is not None
    assert room.left_area == pytest.approx((4 - math.pi) / 2 * 100.0, rel=0.02)


@settings(max_examples=60, deadline=None)
@given(
    width=st.floats(1.2, 60.0),
    longer=st.floats(1.0, 4.0),
    depth=st.floats(0.5, 60.0),
    corner=st.one_of(st.none(), st.just(0.0), st.floats(0.2, 15.0)),
    floor=st.one_of(st.just(0.0), st.floats(0.1, 5.0)),
    through=st.booleans(),
    material=st.sampled_from(["aluminium", "steel", "stainless"]),
)
def test_any_pocket_is_planned_soundly_or_refused(
    width: float, longer: float, depth: float, corner: float | None, floor: float, through: bool, material: str
) -> None:
    corner = None if corner is None else min(corner, width / 2)
    cut = pocket(
        depth, corner, through, largest_cutter=width, narrowest_gap=width, floor_radius=0.0 if through else floor,
        **{k: v for k, v in rectangle(width * longer, width).items()},
    )  # fmt: skip
    recipe = operations_for(cut, cut.views[0], job(material), document(cut))
    assert recipe.operations or recipe.unplanned
    for op in recipe.operations:
        assert width + 1e-6 >= op.tool.DC
        assert depth <= (op.tool.LU or 0.0) + 1e-6 and depth <= 10 * op.tool.DC + 1e-6
        assert op.levels.bottom >= 0.0 and op.power <= 11.0 + 1e-9 and op.speed <= 12000.0
        assert op.feed > 0 and op.minutes > 0 and len(op.because) >= 4
    if corner and recipe.operations and recipe.unplanned is None:
        assert min(op.tool.DC for op in recipe.operations) <= max(2 * corner, 1.0) + 1e-6 or any(
            f.code == "corner_left" for f in recipe.findings
        )


def test_leaning_walls_over_a_sharp_floor_are_followed_with_a_flat_cutter() -> None:
    fields = rectangle(60, 40)
    fields["sides"] = [s.model_copy(update={"draft": 5.0}) for s in fields["sides"]]
    cut = feature(view("closed_pocket", 20.0, largest_cutter=40.0, narrowest_gap=40.0, floor_radius=0.0, **fields))
    lean = plan(cut).operations[-1]
    assert lean.name == "finish leaning walls" and lean.tool.RE == 0.0
    rounded = feature(view("closed_pocket", 20.0, largest_cutter=40.0, narrowest_gap=40.0, floor_radius=3.0, **fields))
    assert 0.0 < plan(rounded).operations[-1].tool.RE <= 3.0


def test_overhanging_wall_is_said() -> None:
    fields = rectangle(60, 40)
    fields["sides"] = [s.model_copy(update={"draft": -5.0}) for s in fields["sides"]]
    cut = feature(view("closed_pocket", 20.0, largest_cutter=40.0, narrowest_gap=40.0, **fields))
    assert "overhanging_wall" in [f.code for f in plan(cut).findings]
