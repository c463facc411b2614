"""An edge break stops before the walls at an edge's ends: how far follows from the cutter's cone, 90 degrees and 10 mm wide."""

from __future__ import annotations

import cadquery as cq
import pytest

from planner import plan
from planner.edge_ends import hemmed, rising, short_of, walls_at
from shared.plan import Job
from tests.closure.parts import document_of

UP = (0.0, 0.0, 1.0)


def _slotted(width: float, depth: float):
    """A block with a pocket open to -x: the pocket's floor ends in an edge between its two walls there."""
    block = cq.Workplane().box(60, 40, 20, centered=False)
    return document_of(block.cut(cq.Workplane().box(20, width, depth, centered=False).translate((0, 10, 20 - depth))))


def _rim(document, width: float, level: float):
    return next(
        e for e in document.edges if e.length == pytest.approx(width) and e.start[2] == e.end[2] == pytest.approx(level)
    )


@pytest.mark.parametrize(
    ("width", "depth", "hem"),
    [(16.0, 2.5, False), (16.0, 10.0, False), (8.0, 2.5, False), (5.5, 2.5, True), (9.5, 10.0, True)],
)
def test_room_before_walls_is_the_cones_at_their_height(width, depth, hem):
    """From memory: a 90 degree cone is as wide on each side as it is high; touching at 1 mm it needs 0.5 mm and the wall's
    height, and no more than its body's 5 mm."""
    document = _slotted(width, depth)
    edge = _rim(document, width, 20 - depth)
    walls = walls_at(edge, rising(document.edges, UP))
    assert walls == [pytest.approx(depth)] * 2
    assert short_of(walls[0]) == pytest.approx(min(5.0, 0.5 + depth))
    assert hemmed(edge, rising(document.edges, UP)) == hem


def test_the_plan_says_where_breaks_stop_and_leaves_out_what_walls_hem_in():
    made = plan(_slotted(16.0, 10.0), Job(reach=False, simulate=False))
    (said,) = [f for f in made.findings if f.code == "break_stops_at_wall"]
    assert "2 end(s) of 1 edge(s)" in said.message and "5.0 mm" in said.message
    document = _slotted(8.0, 10.0)
    narrow = plan(document, Job(reach=False, simulate=False))
    assert not [f for f in narrow.findings if f.code == "break_stops_at_wall"]
    rim = _rim(document, 8.0, 10.0).index
    broken = {e: s.direction for s in narrow.setups for op in s.operations for e in op.edges}
    assert broken.get(rim, (-1.0, 0.0, 0.0))[2] == 0.0, "from -x nothing is in the way"
    assert rim in broken or any("leave a chamfer cutter no room" in f.message for f in narrow.findings)


def test_a_slope_that_the_cone_clears_is_no_wall():
    """The lower edge of a 30 degree slope ends where the slope's own edges rise."""
    profile = cq.Workplane("XZ").polyline([(0, 0), (60, 0), (60, 5), (40, 5), (0, 28)]).close().extrude(30)
    document = document_of(profile)
    top = next(
        e for e in document.edges if e.start[0] == pytest.approx(60) and e.start[2] == e.end[2] == pytest.approx(5)
    )
    assert walls_at(top, rising(document.edges, UP)) == []
