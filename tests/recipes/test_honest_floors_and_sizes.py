"""Sloping floors are never cut flat, and holes of odd sizes are drilled and told, or not begun at all."""

from __future__ import annotations

import pytest

from planner import plan
from planner.checker import check
from planner.recipes import operations_for
from tests.recipes.hand import cylinder, document, feature, hole, job, rectangle, view
from tests.setups.parts import Block


@pytest.mark.parametrize("kind, open_sides", [("open_pocket", "-x"), ("slot", "-x +x"), ("closed_pocket", "")])
def test_a_sloping_floor_is_followed(kind, open_sides):
    """No operation brings a general floor to one level: stairs with allowance, then a ball. Common practice, no source."""
    seen = view(kind, 12.0, bottom_condition="general", narrowest_gap=30.0, largest_cutter=30.0, corner_radius=6.0,
                corner_count=2, **rectangle(60.0, 30.0, open_sides))  # fmt: skip
    recipe = operations_for(feature(seen), seen, job(), document())
    assert recipe.unplanned is None
    assert {op.kind for op in recipe.operations} == {"freeform_operation"}
    rough, finish = recipe.operations
    assert rough.passes.allowance_bottom > 0.0 and rough.passes.axial_count > 1
    assert finish.tool.kind == "ball_endmill" and finish.tool.DC <= 12.0  # corner radius 6


def test_an_odd_hole_takes_the_nearest_drill_and_says_so():
    """4.927 mm is no drill of the 0.1 mm series (ISO 235): 4.9 mm and a warning with the figure that is missing."""
    odd = hole(25.0, cylinder(4.927, 25.0, 0.0))
    recipe = operations_for(odd, odd.views[0], job(), document(odd))
    assert [(op.name, op.tool.DC) for op in recipe.operations if op.kind != "center_drilling"] == [("drill", 4.9)]
    assert recipe.unplanned is None
    assert any(f.code == "nearest_drill" and "0.027" in f.message for f in recipe.findings)


def test_a_hole_that_cannot_be_made_is_not_spotted():
    """A spot without a drill is no hole: nothing is planned and the reason stays."""
    deep = hole(60.0, cylinder(2.42, 60.0, 0.0))
    recipe = operations_for(deep, deep.views[0], job(), document(deep))
    assert not recipe.operations and "no drill of that size" in (recipe.unplanned or "")


def test_a_short_odd_hole_is_milled_to_its_exact_size():
    """15 mm deep a stiff cutter reaches, so the exact size comes from circles. Limit: 5 diameters, from memory."""
    odd = hole(15.0, cylinder(6.93, 15.0, 0.0))
    recipe = operations_for(odd, odd.views[0], job(), document(odd))
    assert [op.name for op in recipe.operations] == ["mill hole"] and not recipe.findings


def test_the_checker_wants_the_word():
    """A drill under the hole's size is a fault unless the plan says that it is the nearest."""
    block = Block((100.0, 60.0, 30.0))
    block.hole("+z", (50.0, 30.0), 4.95)
    features = block.document()
    result = plan(features)
    assert not result.proof.checker and any(f.code == "nearest_drill" for f in result.findings)
    result.findings = [f for f in result.findings if f.code != "nearest_drill"]
    assert "drill_diameter" in {f.code for f in check(result, features)}
