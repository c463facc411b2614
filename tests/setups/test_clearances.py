"""Cuts past what the workpiece rests on are said with their figures; sides with next to no face hold nothing."""

from __future__ import annotations

from planner import plan
from tests.setups.parts import Block


def said(result, code):
    return [f for f in result.findings if f.code == code]


def test_a_drill_through_a_finished_rest_side():
    """17.5 mm: 3 mm at full diameter and a 118 degree point of 5.3 mm (0.300 D, checks.md section 2): 8.3 mm below."""
    block = Block((100.0, 60.0, 20.0))
    block.hole("+z", (50.0, 30.0), 17.5)
    result = plan(block.document(), {"stock": [2.0, 2.0, 2.0, 2.0, 0.0, 2.0]})
    found = said(result, "cuts_below_rest")
    assert len(found) == 1 and "8.3 mm" in found[0].message and "parallels more than 8.3" in found[0].hint


def test_raw_stock_below_takes_it_up():
    """With 10 mm of stock below the same drill ends inside it, whichever side rests first: nothing is said of that setup."""
    block = Block((100.0, 60.0, 20.0))
    block.hole("+z", (50.0, 30.0), 17.5)
    result = plan(block.document(), {"stock": 10.0})
    drilled = next(s for s in result.setups for op in s.operations if op.name == "drill")
    rest = next(c for c in result.clampings if c.id == drilled.clamping).rest_on
    told = any(f.message.startswith(drilled.id + ":") for f in said(result, "cuts_below_rest"))
    assert told is not rest.startswith("raw")


def test_these_findings_hide_nothing_from_the_checker():
    """They name no features, since a warning about a feature must not excuse a face that nothing finishes."""
    block = Block((100.0, 60.0, 20.0))
    block.hole("+z", (50.0, 30.0), 17.5)
    result = plan(block.document(), {"stock": 0.0})
    assert all(not f.features for f in said(result, "cuts_below_rest"))


def test_a_side_with_next_to_no_face_is_not_held():
    """A ledge of 12 mm2 on a side of 2000 mm2 is no face to rest on or to clamp: another way is found, or a fixture."""
    block = Block((100.0, 60.0, 20.0))
    block.hole("+z", (50.0, 30.0), 8.5)
    held = {f for c in plan(block.document()).clampings for f in c.rest_faces + c.clamp_faces}
    assert held
    for face in sorted(held):
        block.areas = {face: 12.0}
        assert not any(face in c.rest_faces + c.clamp_faces for c in plan(block.document()).clampings)
