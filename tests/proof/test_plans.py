"""Whole plans cut in simulation: demo parts, the worked example of ISO 14649-11, and plans broken on purpose."""

from __future__ import annotations

from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from planner import plan
from planner.checker import check
from planner.proof.prove import prove
from recognizer import recognize

ROOT = Path(__file__).resolve().parents[2]
WORKED = ROOT.parent / "shared" / "benchmarks" / "worked"


@pytest.fixture(scope="module")
def bracket():
    return recognize(ROOT / "models" / "cable_block.step")


@pytest.fixture(scope="module")
def whole(bracket):
    return plan(bracket, {})


def test_nothing_is_gouged_and_nothing_stays(whole):
    assert whole.proof.gouged == 0.0
    assert whole.proof.left_uncut == 0.0


def test_all_operations_take_stock_less_workpiece(whole):
    stock = 1.0
    for side in whole.job.stock.size:
        stock *= side
    simulated = whole.proof.simulation
    # Each bundle counts areas by rays: the block itself is known to 1e-3 only.
    assert_allclose(simulated.removed, stock - simulated.workpiece, rtol=1e-3)
    assert_allclose(simulated.removed, sum(op.removed for s in whole.setups for op in s.operations), rtol=1e-9)


def test_the_part_by_rays_is_the_kernels_part(whole, bracket):
    assert_allclose(whole.proof.simulation.part, bracket.part.volume, rtol=5e-4)


def test_the_same_plan_gives_the_same_figures(whole, bracket):
    assert plan(bracket, {}).to_json() == whole.to_json()


def test_a_floor_cut_too_deep_is_a_gouge_of_that_depth(bracket):
    broken = plan(bracket, {"simulate": False})
    floor = next(op for s in broken.setups for op in s.operations if op.name == "finish floor")
    floor.levels.bottom -= 0.25
    prove(broken, bracket, bracket.shape)
    own = [g for g in broken.proof.gouges if g.operation == floor.id]
    assert own and max(g.thickness for g in own) == pytest.approx(0.25, abs=0.01)
    assert any(f.code == "gouged" and floor.id in f.message for f in check(broken, bracket))


def test_a_skin_left_on_a_floor_is_found_with_its_thickness(bracket):
    broken = plan(bracket, {"simulate": False})
    floor = next(op for s in broken.setups for op in s.operations if op.name == "finish floor")
    bottom = floor.levels.bottom
    for op in (op for s in broken.setups for op in s.operations if op.features == floor.features):
        op.levels.bottom = max(op.levels.bottom, bottom + 0.15)
    prove(broken, bracket, bracket.shape)
    left = [x for x in broken.proof.left if x.face in floor.faces]
    assert left and max(x.thickness for x in left) == pytest.approx(0.15, abs=0.01)
    assert any(f.code == "left_uncut" for f in check(broken, bracket))


def test_a_hole_that_is_not_drilled_stays(bracket):
    broken = plan(bracket, {"simulate": False})
    for setup in broken.setups:
        setup.operations = [op for op in setup.operations if op.tool.kind != "twist_drill"]
    prove(broken, bracket, bracket.shape)
    kinds = {x.feature.rpartition("-")[0] for x in broken.proof.left if x.feature}
    assert kinds & {"round_hole", "counterbore_hole", "countersunk_hole", "stepped_hole"}


@pytest.mark.parametrize(("name", "volume"), [("flat", 471_171.24), ("R1", 471_223.05)])
def test_the_worked_example_keeps_its_published_volume(name, volume):
    # ISO 14649-11, example 1: volumes of the finished part as the notes beside the worked files give them.
    path = WORKED / f"iso14649_ex1_{name}.step"
    if not path.exists():
        pytest.skip("the worked examples in ../shared are not here")
    document = plan(recognize(path), {})
    assert document.proof.gouged == 0.0
    assert_allclose(document.proof.simulation.workpiece - document.proof.left_uncut, volume, rtol=5e-4)
