"""Corners where three chamfers meet are filed, and never set up for. Common practice, no source."""

from __future__ import annotations

import cadquery as cq

from planner import plan
from shared.plan import Job
from tests.closure.parts import document_of


def _planned(part: cq.Workplane, axes: int = 3):
    return plan(document_of(part), Job(reach=False, simulate=False, axes=axes))


def test_a_block_chamfered_all_round_needs_no_setup_for_its_corners():
    block = cq.Workplane().box(60, 40, 20).edges().chamfer(1)
    made = _planned(block)
    assert len(made.setups) == 2
    assert len(made.unplanned) == 8 and all("filed by hand" in u.reason for u in made.unplanned)
    assert not _planned(block, axes=5).unplanned, "a machine that tilts the part cuts them in the same clampings"


def test_a_corner_that_is_cut_off_is_a_face_of_its_own():
    """No chamfers beside it: the plan keeps the tilted setup that it needs."""
    gone = cq.Workplane().polyline([(0, 0), (12, 0), (0, 12)]).close().extrude(12, taper=30).translate((-30, -20, -10))
    made = _planned(cq.Workplane().box(60, 40, 20).cut(gone))
    assert not [u for u in made.unplanned if "filed by hand" in u.reason]


def test_a_wide_flat_between_wide_chamfers_is_meant():
    made = _planned(cq.Workplane().box(90, 80, 70).edges().chamfer(8))
    assert not [u for u in made.unplanned if "filed by hand" in u.reason]
