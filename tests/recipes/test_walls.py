"""Flat sides milled as walls from beside: from the part's top on, and only where a stiff cutter reaches."""

from __future__ import annotations

import pytest

from planner import plan
from planner.checker import check
from planner.recipes import operations_for
from planner.recipes.task import task_for
from tests.recipes.hand import document, feature, job, rectangle, view
from tests.setups.parts import Block


def wall(bottom, top, size):
    """A flat side seen from above between two levels, on a part of `size`."""
    seen = view("outside_profile", top - bottom, top=top, bottom=bottom, through=True, closed_sides=1, length=80.0,
                width=0.0, region_area=0.0)  # fmt: skip
    return operations_for(feature(seen, kind="planar_face"), seen, job(allowance=2.0), document(size=size))


def test_starts_at_the_part_top():
    """A wall below a step starts at the part's top: the raw rim beside the step still stands. From common sense."""
    recipe = wall(0.0, 44.0, (180.0, 140.0, 50.0))
    assert [op.name for op in recipe.operations] == ["rough outside", "finish outside"]
    assert all(op.levels.top == 50.0 and op.levels.bottom == 0.0 for op in recipe.operations)
    assert recipe.operations[0].passes.axial_count == 6  # 51 mm with the break-through, 10 mm a level


def test_slender_walls_are_faced_instead():
    """140 mm is 7 diameters of a 20 mm cutter: refused. Limit of 5 diameters: checks.md section 2, from memory."""
    recipe = wall(0.0, 140.0, (180.0, 50.0, 140.0))
    assert not recipe.operations
    assert "7.0 times" in (recipe.unplanned or "") and "faced" in (recipe.unplanned or "")
    assert wall(0.0, 95.0, (180.0, 50.0, 95.0)).operations  # 96 mm with the break-through is 4.8 diameters


def test_checker_knows_the_rim():
    """A plan whose wall starts lower than the part's top is caught."""
    block = Block((100.0, 60.0, 20.0), sides=("+z", "-z"))
    for side in ("+x", "-x", "+y", "-y"):
        block.planar_face(side, mill_from=("+z", "-z"))
    features = block.document()
    result = plan(features)
    walls = [op for s in result.setups for op in s.operations if "outside" in op.name]
    assert walls and not result.proof.checker
    walls[0].levels.top -= 5.0
    assert "starts_under_rim" in {f.code for f in check(result, features)}


@pytest.mark.parametrize("gap, trusted", [(0.2, False), (3.0, True)])
def test_slivers_are_no_gaps(gap, trusted):
    """A gap of 0.2 mm in a pocket 40 mm wide is a sliver of the outline, one of 3 mm a passage."""
    seen = view("open_pocket", 10.0, narrowest_gap=gap, largest_cutter=40.0, corner_radius=5.0, corner_count=2,
                floor_radius=0.0, **rectangle(60.0, 40.0, "-x"))  # fmt: skip
    pocket = feature(seen)
    task = task_for(pocket, seen, job(), document(pocket))
    assert task.gap == (gap if trusted else 40.0)
    recipe = operations_for(pocket, seen, job(), document(pocket))
    assert min(op.tool.DC for op in recipe.operations) == (3.0 if trusted else 8.0)  # 8 mm turns in a 5 mm corner


def test_the_whole_side_goes_in_one_wall():
    """Two faces on one side, a step between them and the part's end: one wall over the whole side, nothing left proud."""
    block = Block((100.0, 60.0, 20.0), sides=("+z", "-z", "+x", "-x", "-y"))
    names = [block.planar_face("+y", mill_from=("+z", "-z")) for _ in range(2)]
    features = block.document()
    ids = [f.id for f in features.features if f.views[0].direction == (0.0, 1.0, 0.0)]
    for i, name in enumerate(ids):  # the first face ends 12 mm above the part's bottom, as above a step
        for seen in block.feature(name).views[1:]:
            seen.bottom += 12.0 if i == 0 and seen.direction[2] > 0 else 0.0
            seen.depth = seen.top - seen.bottom
    result = plan(features)
    assert names and not result.proof.checker
    walls = [op for s in result.setups for op in s.operations if "outside" in op.name]
    assert sorted(op.name for op in walls) == ["finish outside", "rough outside"]
    for op in walls:
        assert sorted(op.features) == sorted(ids)
        assert op.levels.top - op.levels.bottom == pytest.approx(20.0)
        op.levels.bottom += 12.0
    assert "rim_left" in {f.code for f in check(result, features)}
