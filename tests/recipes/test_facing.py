"""Facing: widths, passes, levels."""

from __future__ import annotations

import pytest

from planner.recipes import facing, operations_for
from shared.cutters import CutterTable, default_cutters
from tests.recipes.hand import document, feature, job, rectangle, view


def only(*ids: str) -> CutterTable:
    return CutterTable("test", tuple(t for t in default_cutters().tools if t.id in ids))


def face(width: float, allowance: float = 2.0, cutters: CutterTable | None = None, overhang: float = 0.0):
    recipe = facing(50.0, allowance, 200.0, width, job(cutters=cutters or default_cutters()), overhang=overhang)
    assert len(recipe.operations) == 1
    return recipe.operations[0]


@pytest.mark.parametrize("width", [30.0, 49.0, 62.0, 79.0, 99.0])
def test_face_mill_wider_than_the_face_cleans_it_in_one_pass(width: float) -> None:
    """Source: common practice, no source."""
    operation = face(width)
    assert width < operation.tool.DC
    assert operation.passes.radial_count == 1


def test_100_mm_face_mill_on_a_face_154_wide_needs_parallel_passes() -> None:
    """Source: common practice, no source."""
    operation = face(154.0, cutters=only("FM100"))
    assert operation.tool.DC == 100
    assert operation.passes.radial_count >= 2
    assert operation.passes.radial_count * operation.passes.radial_depth >= 154.0
    assert operation.passes.radial_depth < 100
    assert operation.strategy == "bidirectional"


def test_allowance_of_2_mm_comes_off_in_one_cut() -> None:
    """Source: common practice, no source."""
    operation = face(80.0, allowance=2.0)
    assert (operation.passes.axial_count, operation.passes.axial_depth) == (1, 2.0)
    assert (operation.levels.top, operation.levels.bottom) == (52.0, 50.0)


def test_thicker_allowance_takes_more_cuts() -> None:
    operation = face(80.0, allowance=6.0)
    assert operation.passes.axial_count == 3
    assert operation.passes.axial_count * operation.passes.axial_depth == pytest.approx(6.0)


def test_smallest_mill_that_covers_is_chosen_and_the_raw_rim_counts() -> None:
    assert face(48.0).tool.DC == 50
    assert face(48.0, overhang=2.0).tool.DC == 63


def test_planar_face_on_the_parts_top_carries_the_stocks_allowance() -> None:
    top = feature(view("planar_face", 0.0, top=50.0, bottom=50.0, length=200.0, width=90.0, region_area=18000.0))
    recipe = operations_for(top, top.views[0], job(allowance=1.5), document(top))
    assert recipe.operations[0].levels.top == pytest.approx(51.5)
    assert recipe.operations[0].faces == top.faces


def test_planar_face_without_allowance_is_left_as_it_is_and_that_is_said() -> None:
    top = feature(view("planar_face", 0.0, top=50.0, bottom=50.0, length=200.0, width=90.0, region_area=18000.0))
    recipe = operations_for(top, top.views[0], job(), document(top))
    assert not recipe.operations and recipe.unplanned is None
    assert [f.code for f in recipe.findings] == ["nothing_to_cut"]


def test_deep_planar_face_counts_all_that_may_lie_above_it() -> None:
    low = feature(view("planar_face", 0.0, top=40.0, bottom=40.0, length=60.0, width=60.0, region_area=3600.0))
    recipe = operations_for(low, low.views[0], job(allowance=2.0), document(low))
    assert recipe.operations[0].levels.top == pytest.approx(52.0)
    assert recipe.operations[0].passes.axial_count == 2, "11.8 mm in levels of at most half of 20 mm, by an end mill"
    assert recipe.operations[-1].levels.bottom == 40.0 and recipe.operations[-1].faces


def test_a_shallow_inner_face_stays_the_face_mills() -> None:
    low = feature(view("planar_face", 0.0, top=45.0, bottom=45.0, length=60.0, width=60.0, region_area=3600.0))
    recipe = operations_for(low, low.views[0], job(allowance=2.0), document(low))
    assert [op.tool.kind for op in recipe.operations] == ["facemill"] and recipe.operations[0].passes.axial_count == 3


def test_narrow_room_takes_an_end_mill() -> None:
    low = feature(
        view("planar_face", 2.0, top=50.0, bottom=48.0, largest_cutter=18.0, **rectangle(100, 18, "-x +x -y +y"))
    )
    recipe = operations_for(low, low.views[0], job(), document(low, size=(200.0, 100.0, 60.0)))
    assert recipe.operations[0].tool.kind == "endmill"
    assert recipe.operations[0].tool.DC <= 18.0


def test_face_mill_does_not_pass_over_a_boss_that_stands_on_the_face() -> None:
    """Source: geometry: a boss rises above the face it stands on."""
    floor = feature(
        view("planar_face", 0.0, top=38.0, bottom=38.0, length=200.0, width=154.0, region_area=27000.0), id="floor"
    )
    standing = feature(
        view("boss", 12.0, top=50.0, bottom=38.0, through=True), id="boss", dimensions={"diameter": 62.0, "height": 12.0},
        faces=[9], walls=[9],
    )  # fmt: skip
    part = document(floor, standing)
    cleared = operations_for(floor, floor.views[0], job(allowance=2.0), part)
    assert [op.name for op in cleared.operations] == ["rough planar face", "finish floor"]
    assert all(op.tool.kind == "endmill" and "boss" in op.because[-1] for op in cleared.operations)
    assert cleared.operations[0].passes.allowance_side > 0
    walls = operations_for(standing, standing.views[0], job(allowance=2.0), part)
    assert [op.name for op in walls.operations] == ["finish boss"]
    assert walls.operations[0].levels.break_through == 0.0, "the floor below a boss is not cut into"
    alone = operations_for(standing, standing.views[0], job(allowance=2.0), document(standing))
    assert [op.name for op in alone.operations] == ["rough boss", "finish boss"]
