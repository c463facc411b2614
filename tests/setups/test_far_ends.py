"""What lies at the far end of a through cut may come later, so that both rims of a hole are broken by machine.

Geometry by eye; that a rim is broken from the side that it opens on is what a chamfer cutter does. Common practice.
"""

from __future__ import annotations

import cadquery as cq
import pytest

from planner import plan
from planner.checker import check
from recognizer import recognize


def read(tmp_path, part):
    cq.exporters.export(part, str(tmp_path / "part.step"))
    return recognize(tmp_path / "part.step")


@pytest.fixture
def plate(tmp_path):
    """A plate with four through holes and a shallow pocket on either side, so that both sides are visited."""
    part = cq.Workplane("XY").box(100, 60, 20, centered=(True, True, False))
    part = part.faces(">Z").workplane().rarray(80, 40, 2, 2).hole(6.6)
    part = part.cut(cq.Workplane("XY").workplane(offset=16).rect(30, 20).extrude(4).edges("|Z").fillet(5))
    return read(tmp_path, part.cut(cq.Workplane("XY").center(0, 0).rect(24, 16).extrude(3).edges("|Z").fillet(5)))


def cuts(result, word):
    return [(k, op) for k, s in enumerate(result.setups) for op in s.operations if op.name.startswith(word)]


def test_both_rims_of_through_holes_are_broken(plate):
    result = plan(plate, {"simulate": False})
    assert result.proof.checker == []
    rims = {e.index for e in plate.edges if 20.0 < e.length < 21.0}
    assert len(rims) == 8, "four holes of 6.6 mm, two rims each"
    broken = {i for s in result.setups for op in s.operations for i in op.edges}
    assert rims <= broken
    first, _ = cuts(result, "drill")[0]
    assert first == 0, "drilled in the first of the two setups: the second sees the far rims"


def test_the_simulation_agrees(plate):
    result = plan(plate)
    assert result.proof.gouged == 0.0 and result.proof.left_uncut == 0.0


def test_a_blind_hole_still_waits_for_the_face_it_opens_on(tmp_path):
    part = cq.Workplane("XY").box(60, 40, 20, centered=(True, True, False))
    part = part.cut(cq.Workplane("XY").workplane(offset=12).rect(30, 20).extrude(8).edges("|Z").fillet(5))
    part = part.cut(cq.Workplane("XY").workplane(offset=6).circle(3.3).extrude(6))
    document = read(tmp_path, part)
    result = plan(document, {"simulate": False})
    (k, drill), (_, floor) = cuts(result, "drill")[0], cuts(result, "finish floor")[0]
    place = [op.id for s in result.setups for op in s.operations]
    assert place.index(floor.id) < place.index(drill.id)
    setup = result.setups[k]
    setup.operations.remove(drill)
    setup.operations.insert(1, drill)
    assert any(f.code == "parent_after_child" for f in check(result, document))


def test_a_mouth_is_cut_before_the_hole_on_it_from_that_side(tmp_path):
    """A through hole in a pocket's floor may come first from below, from above only after the pocket."""
    part = cq.Workplane("XY").box(60, 40, 20, centered=(True, True, False))
    part = part.cut(cq.Workplane("XY").workplane(offset=12).rect(30, 20).extrude(8).edges("|Z").fillet(5))
    part = part.cut(cq.Workplane("XY").circle(3.3).extrude(20))
    document = read(tmp_path, part)
    result = plan(document, {"simulate": False})
    assert result.proof.checker == []
    k, drill = cuts(result, "drill")[0]
    if result.setups[k].direction[2] > 0.5:
        place = [op.id for s in result.setups for op in s.operations]
        assert place.index(cuts(result, "finish floor")[0][1].id) < place.index(drill.id)
