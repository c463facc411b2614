"""Every kind has a recipe, and every operation that a recipe gives is whole."""

from __future__ import annotations

from typing import get_args

import pytest

from planner.recipes import RECIPES, operations_for
from shared.features import Feature, Kind
from tests.recipes.hand import cone, cylinder, document, feature, hole, job, rectangle, view

SAMPLES: dict[str, Feature] = {
    "planar_face": feature(view("planar_face", 0, top=50, bottom=50, length=200, width=154, region_area=30800)),
    "step": feature(view("step", 20, **rectangle(100, 30, "-x +x -y"))),
    "slot": feature(view("slot", 10, largest_cutter=12, narrowest_gap=12, **rectangle(100, 12, "-x +x"))),
    "open_pocket": feature(view("open_pocket", 25, corner_radius=6, corner_count=2, **rectangle(60, 40, "-x"))),
    "closed_pocket": feature(view("closed_pocket", 25, corner_radius=4, corner_count=4, **rectangle(60, 40))),
    "round_hole": hole(40, cylinder(10, 40, 0)),
    "counterbore_hole": hole(30, cylinder(18, 30, 20), cylinder(11, 20, 0), kind="counterbore_hole"),
    "countersunk_hole": hole(30, cone(18.25, 9, 30, 25.375, 90), cylinder(9, 25.375, 0), kind="countersunk_hole"),
    "stepped_hole": hole(30, cylinder(30, 30, 25), cylinder(18, 25, 10), cylinder(11, 10, 0), kind="stepped_hole"),
    "boss": feature(view("boss", 20, **rectangle(100, 100, "-x +x -y +y"))),
    "outside_profile": feature(view("outside_profile", 50, length=200, width=154, through=True)),
    "chamfer": feature(view("chamfer", 2, length=100, width=2, region_area=200), dimensions={"width": 2, "angle": 45}),
    "edge_round": feature(view("edge_round", 3, length=100, width=3, region_area=300), dimensions={"radius": 3}),
    "undercut": feature(
        view("undercut", 16, length=100, width=18, open_sides=2),
        dimensions={"width": 10, "foot_width": 18, "foot_height": 8, "depth": 16},
    ),
    "region": feature(view("region", 12, length=100, width=50, region_area=5000)),
    "enclosed_void": feature(view("enclosed_void", 12)),
}


def test_every_kind_has_a_recipe_and_a_sample() -> None:
    assert set(RECIPES) == set(get_args(Kind)) == set(SAMPLES)


@pytest.mark.parametrize("kind", sorted(SAMPLES))
@pytest.mark.parametrize("material", ["aluminium", "stainless"])
def test_operations_are_whole(kind: str, material: str) -> None:
    cut = SAMPLES[kind]
    recipe = operations_for(cut, cut.views[0], job(material, allowance=2.0), document(cut))
    if kind == "enclosed_void":
        assert not recipe.operations and recipe.unplanned
        return
    assert recipe.operations and recipe.unplanned is None
    done: set[str] = set()
    for op in recipe.operations:
        assert set(op.after) <= done and op.id not in done, "ids are new and point backwards"
        done.add(op.id)
        assert op.features == [cut.id] and set(op.faces) <= set(cut.faces) | {10, 11, 12, 13}
        assert op.levels.top > op.levels.bottom and op.levels.break_through >= 0
        assert op.speed > 0 and op.feed > 0 and op.minutes > 0 and op.path_length > 0
        assert op.passes.axial_count >= 1 and op.passes.radial_count >= 1
        assert op.passes.axial_depth > 0 and op.passes.radial_depth > 0
        assert len(op.because) >= 4 and all(op.because)
        assert op.entry and op.strategy and op.name
        assert op.power <= 11.0 + 1e-9
    cut_faces = {f for op in recipe.operations for f in op.faces}
    assert cut_faces, "some operation brings faces to size"


@pytest.mark.parametrize("kind", sorted(SAMPLES))
def test_same_input_same_operations(kind: str) -> None:
    cut = SAMPLES[kind]
    twice = [
        [op.to_json() for op in operations_for(cut, cut.views[0], job(), document(cut)).operations] for _ in range(2)
    ]
    assert twice[0] == twice[1]


def test_weak_machine_lowers_the_feed_and_says_so() -> None:
    from planner.cutting import Machine

    cut = SAMPLES["step"]
    strong = operations_for(cut, cut.views[0], job("steel"), document(cut)).operations[0]
    weak_one = Machine(power=0.7 * strong.power)
    weak = operations_for(cut, cut.views[0], job("steel", machine=weak_one), document(cut)).operations[0]
    assert weak.power == pytest.approx(weak_one.power)
    assert weak.feed == pytest.approx(0.7 * strong.feed) and weak.minutes > strong.minutes
    assert weak.passes == strong.passes
    assert any("feed lowered" in text for text in weak.because)


def test_very_weak_machine_takes_thinner_levels_so_that_the_cutter_still_bites() -> None:
    """A fifth of the power: three levels for one (0.5 / 0.2 rounded up), and 0.6 of the feed: together a fifth."""
    from planner.cutting import Machine

    cut = SAMPLES["step"]
    strong = operations_for(cut, cut.views[0], job("steel"), document(cut)).operations[0]
    machine = Machine(power=0.2 * strong.power)
    weak = operations_for(cut, cut.views[0], job("steel", machine=machine), document(cut)).operations[0]
    assert weak.passes.axial_count == 3 * strong.passes.axial_count
    assert weak.passes.axial_depth == pytest.approx(strong.passes.axial_depth / 3)
    assert weak.feed == pytest.approx(0.6 * strong.feed)
    assert weak.power == pytest.approx(machine.power)
    assert weak.path_length / weak.feed == pytest.approx(5.0 * strong.path_length / strong.feed)
    assert any("step lowered" in text for text in weak.because)
