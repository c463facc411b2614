"""Undercuts: the middle is opened first, the cutter's neck and head fit, what does not fit is named."""

from __future__ import annotations

import pytest

from planner.recipes import Recipe, operations_for
from tests.recipes.hand import document, feature, job, view


def plan(depth: float, **dimensions: float) -> Recipe:
    cut = feature(view("undercut", depth, length=160.0, width=18.0), dimensions={"length": 160.0, **dimensions})
    return operations_for(cut, cut.views[0], job(), document(cut))


def test_tee_slot_opens_its_neck_then_widens_its_foot() -> None:
    """Source: DIN 650 slot 10 with foot 18 x 8 and its DIN 851 cutter 18 x 8, from memory."""
    recipe = plan(18.0, width=10.0, foot_width=18.0, foot_height=8.0)
    neck, foot = recipe.operations
    assert neck.tool.kind == "endmill" and neck.tool.DC < 10.0
    assert foot.tool.kind == "t_slot_mill" and foot.tool.DC == 18.0
    assert (foot.tool.DN or 99.0) < 10.0
    assert (foot.levels.top, foot.levels.bottom) == (8.0, 0.0)
    assert foot.after == [neck.id]


def test_dovetail_takes_a_cutter_of_its_flank_angle() -> None:
    """Source: DIN 1833 dovetail cutters of 45 and 60 degrees, from memory."""
    recipe = plan(12.0, width=44.0, flank_angle=60.0)
    assert recipe.operations[-1].tool.kind == "dovetail_mill"
    assert recipe.operations[-1].tool.SIG == 60.0


@pytest.mark.parametrize(
    "dimensions", [{"width": 3.0, "foot_width": 18.0, "foot_height": 8.0}, {"width": 44.0, "flank_angle": 52.0}]
)
def test_undercut_that_no_cutter_fits_names_the_family(dimensions: dict[str, float]) -> None:
    recipe = plan(12.0, **dimensions)
    assert [op.name for op in recipe.operations] == ["rough middle"], "its middle is opened all the same"
    assert not recipe.operations[0].faces
    if "flank_angle" in dimensions:
        assert "flanks of 52 degrees" in (recipe.unplanned or "")
    assert recipe.unplanned and ("T-slot cutter" in recipe.unplanned or "dovetail cutter" in recipe.unplanned)


def test_groove_with_no_open_end_takes_a_head_that_passes_its_neck() -> None:
    cut = feature(view("undercut", 3.0, width=14.0, narrowest_gap=12.0))
    recipe = operations_for(cut, cut.views[0], job(), document(cut))
    assert recipe.unplanned or recipe.operations[-1].tool.DC < 12.0
