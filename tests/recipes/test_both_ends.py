"""A hole counterbored from both ends is cut from both sides: drilled and sunk from one, sunk from the other.

The parts are cut here, so their figures are the truth.
"""

from __future__ import annotations

import cadquery as cq
import pytest

from planner import plan
from planner.checker import check
from recognizer import recognize

BOX = (80.0, 60.0, 40.0)


def drilled(*steps):
    """A block of 80 x 60 x 40 with coaxial cylinders (diameter, from z, to z) in its middle."""
    part = cq.Workplane("XY").box(*BOX, centered=False)
    for diameter, low, high in steps:
        part = part.cut(
            cq.Workplane("XY").workplane(offset=low).center(40, 30).circle(diameter / 2).extrude(high - low)
        )
    return part


@pytest.fixture
def read(tmp_path):
    def write(shape):
        path = tmp_path / "part.step"
        cq.exporters.export(shape, str(path))
        return recognize(path)

    return write


def operations(result):
    return [
        (setup.direction, op)
        for setup in result.setups
        for op in setup.operations
        if any("hole" in f for f in op.features)
    ]


@pytest.mark.parametrize("upper, lower", [(15.0, 15.0), (15.0, 18.0)])
def test_each_end_is_sunk_from_its_own_side(read, upper, lower):
    document = read(drilled((9.0, 0, 40), (upper, 31, 40), (lower, 0, 9)))
    result = plan(document)
    assert not result.unplanned and not result.proof.checker
    assert not {"partly_uncut", "hole_step_hidden"} & {f.code for f in result.findings}
    cut = operations(result)
    assert sum(op.name == "drill" for _, op in cut) == 1, "drilled once, from one side"
    sunk = {d[2]: op for d, op in cut if op.name.startswith("mill")}
    assert set(sunk) == {1.0, -1.0}
    assert (sunk[1.0].levels.bottom, sunk[-1.0].levels.bottom) == (pytest.approx(31.0), pytest.approx(-9.0))
    second = cut[-1][1]
    assert any(op.id in second.after for _, op in cut[:-1]), "the other end waits for the hole"


def test_an_inner_groove_is_seen_from_neither_side(read):
    """A wider step between two narrow ones: both sides together still leave it, and that is said."""
    document = read(drilled((9.0, 0, 40), (15.0, 14, 26)))
    result = plan(document)
    told = {f.code for f in result.findings} | {u.feature for u in result.unplanned}
    assert told & {"partly_uncut", "hole_step_hidden"} or result.unplanned


def test_the_checker_misses_the_other_end(read):
    document = read(drilled((9.0, 0, 40), (15.0, 31, 40), (15.0, 0, 9)))
    result = plan(document)
    last = [
        s
        for s in result.setups
        if any(op.name.startswith("mill") and "hole" in op.features[0] for op in s.operations if op.features)
    ][-1]
    last.operations = [op for op in last.operations if not (op.features and "hole" in op.features[0])]
    assert {"face_not_finished", "bottom_not_reached"} & {f.code for f in check(result, document)}


def test_a_step_behind_a_narrower_one_is_not_cut_from_there(read):
    """The checker knows it of any plan: the shoulder of 18 mm moved to the side where 15 and 9 mm lie before it."""
    document = read(drilled((9.0, 0, 40), (15.0, 31, 40), (18.0, 0, 9)))
    result = plan(document)
    assert not result.proof.checker
    up = next(s for s in result.setups if s.direction[2] > 0.9)
    down = next(s for s in result.setups if s.direction[2] < -0.9)
    moved = next(op for op in down.operations if op.name == "mill shoulder")
    down.operations.remove(moved)
    up.operations.append(moved)
    assert "step_hidden" in {f.code for f in check(result, document)}


def test_a_hole_too_long_for_any_drill_is_drilled_from_both_ends(tmp_path):
    """4.7 mm through 150 mm: the longest drill of that size in the table reaches 83.8 mm, two halves of 76 mm do."""
    part = cq.Workplane("XY").box(150, 40, 30)
    part = part.cut(cq.Workplane("YZ").workplane(offset=-75).circle(2.35).extrude(150))
    cq.exporters.export(part, str(tmp_path / "part.step"))
    document = recognize(str(tmp_path / "part.step"))
    result = plan(document)
    assert result.unplanned == [] and not [f for f in result.proof.checker if f.severity == "error"]
    assert result.proof.gouged == 0.0 and result.proof.left_uncut == pytest.approx(0.0, abs=0.01)
    drills = [
        (s.direction, op) for s in result.setups for op in s.operations if "drilling" in op.kind and op.tool.DC == 4.7
    ]
    assert [d[0] for d, op in drills if op.kind != "center_drilling"] in ([1.0, -1.0], [-1.0, 1.0])
    assert all(op.levels.bottom == pytest.approx(-1.0) for _, op in drills), "1 mm past the middle from either end"
    assert any(f.code == "drilled_from_both_ends" for f in result.findings)


def test_a_hole_beyond_both_halves_stays_unplanned_with_its_reason(tmp_path):
    part = cq.Workplane("XY").box(190, 40, 30)
    part = part.cut(cq.Workplane("YZ").workplane(offset=-95).circle(2.35).extrude(190))
    cq.exporters.export(part, str(tmp_path / "part.step"))
    result = plan(recognize(str(tmp_path / "part.step")), {"simulate": False})
    assert len(result.unplanned) == 1 and "190.0 mm deep" in result.unplanned[0].reason
