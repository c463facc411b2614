"""Chamfers, edge rounds, edge break."""

from __future__ import annotations

import pytest

from planner.recipes import edge_break, operations_for
from planner.recipes.edges import tip_depth
from shared.features import Edge
from tests.recipes.hand import UP, document, feature, job, view


def edge(index: int, level: float, length: float = 100.0) -> Edge:
    return Edge(
        index=index, faces=(1, 2), length=length, angle=90.0, start=(0.0, 0.0, level), end=(length, 0.0, level),
        directions=[UP, (0.0, 1.0, 0.0)], levels=[level, 7.0],
    )  # fmt: skip


def test_tip_stands_0_7_below_for_a_break_of_0_2_at_1_mm() -> None:
    """Source: common practice, no source; geometry: 0.2 + 1 / (2 tan 45)."""
    assert tip_depth(0.2, 1.0) == pytest.approx(0.7)
    operation = edge_break([edge(5, 50.0)], UP, job(), document()).operations[0]
    assert operation.levels.top == 50.0
    assert operation.levels.top - operation.levels.bottom == pytest.approx(0.7)
    assert operation.tool.SIG == 90.0


def test_blunt_tip_stands_less_deep() -> None:
    assert tip_depth(0.2, 1.0, tip=0.5) == pytest.approx(0.45)


def test_edges_of_one_level_are_broken_together_and_levels_apart() -> None:
    recipe = edge_break([edge(1, 50.0), edge(2, 30.0), edge(3, 50.0)], UP, job(), document())
    assert [op.edges for op in recipe.operations] == [[1, 3], [2]]
    assert recipe.operations[0].path_length > recipe.operations[1].path_length


def test_edges_out_of_reach_are_left_out() -> None:
    assert edge_break([edge(1, 50.0)], (0.0, 0.0, -1.0), job(), document()).operations == []


def chamfer(depth: float, width: float, area: float) -> object:
    return view("chamfer", depth, length=100.0, width=width, region_area=area)


def test_chamfer_takes_a_cutter_of_its_slope() -> None:
    cut = feature(
        view("chamfer", 2.0, length=100.0, width=2.0, region_area=200.0), dimensions={"width": 2.0, "angle": 45.0}
    )
    operation = operations_for(cut, cut.views[0], job(), document(cut)).operations[0]
    assert operation.tool.kind == "countersink" and operation.tool.SIG == 90.0
    assert (operation.levels.top, operation.levels.bottom) == (2.0, 0.0)


def test_a_wide_chamfer_is_roughed_before_its_cutter_shapes_it() -> None:
    cut = feature(
        view("chamfer", 10.0, length=100.0, width=10.0, region_area=1000.0), dimensions={"width": 10.0, "angle": 45.0}
    )
    operations = operations_for(cut, cut.views[0], job(), document(cut)).operations
    assert [(o.tool.kind, o.levels.bottom) for o in operations] == [("endmill", 0.0), ("countersink", 0.0)]
    assert operations[0].passes.allowance_side > 0


def test_chamfer_of_an_odd_slope_is_followed_with_a_ball() -> None:
    cut = feature(
        view("chamfer", 2.0, length=100.0, width=5.0, region_area=500.0), dimensions={"width": 5.0, "angle": 68.0}
    )
    assert operations_for(cut, cut.views[0], job(), document(cut)).operations[0].tool.kind == "ball_endmill"


def test_chamfer_seen_edge_on_is_milled_as_a_wall() -> None:
    cut = feature(
        view("chamfer", 30.0, length=2.0, width=2.0, region_area=0.0), dimensions={"width": 2.0, "angle": 45.0}
    )
    operation = operations_for(cut, cut.views[0], job(), document(cut)).operations[0]
    assert operation.tool.kind == "endmill" and operation.kind == "side_finish_milling"


def test_edge_round_takes_the_cutter_with_its_radius() -> None:
    cut = feature(view("edge_round", 3.0, length=100.0, width=3.0, region_area=300.0), dimensions={"radius": 3.0})
    assert operations_for(cut, cut.views[0], job(), document(cut)).operations[0].tool.RE == 3.0


def test_edge_round_without_such_a_cutter_is_followed_with_a_ball() -> None:
    cut = feature(view("edge_round", 7.3, length=100.0, width=7.3, region_area=730.0), dimensions={"radius": 7.3})
    assert operations_for(cut, cut.views[0], job(), document(cut)).operations[0].tool.kind == "ball_endmill"
