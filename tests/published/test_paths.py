"""Path lengths against plane geometry by hand, and that the rings really clear what they are said to clear."""

from __future__ import annotations

import math

import pytest
from shapely import unary_union

from planner.geometry import opened, region
from planner.paths import clearing_length, peck_rapids, rings, slope_length, wall_path
from planner.travel import _nearest_first
from tests.recipes.hand import rectangle, view


def pocket(length, width, open_sides="", kind="closed_pocket"):
    return view(kind, 10, **rectangle(length, width, open_sides))


def test_rings_of_a_closed_pocket():
    """60 x 40, cutter 10, 5 apart, 0.5 off the walls: the centre's rectangle is 49 x 29, then 39 x 19, then 29 x 9."""
    seen = pocket(60, 40)
    by_hand = 2 * (49 + 29) + 2 * (39 + 19) + 2 * (29 + 9) + 2 * 5
    assert clearing_length(seen, 10, 5, 0.5, outside=False) == pytest.approx(by_hand, abs=0.05)


def test_rings_reach_an_open_edge_and_the_raw_rim_beyond():
    """50 x 20 open at +x, cutter 10, raw rim 2: from 5 off the far wall to 2 past the edge, 47 x 10, then 37 x 0 (a line);
    in and out 10 + 2 x 2."""
    seen = pocket(50, 20, "+x", "open_pocket")
    outer, line = 2 * (47 + 10), 37
    found = clearing_length(seen, 10, 5, 0.0, outside=True, rim=2.0)
    assert found == pytest.approx(outer + line + 5 + 14, abs=0.1)


def test_a_cutter_that_just_fits_follows_a_line():
    seen = pocket(60, 12, "-x +x", "slot")
    found = clearing_length(seen, 12, 6, 0.3, outside=True)
    assert found == pytest.approx(60 + 12 + 4, abs=0.1)


def test_walls_are_followed_a_radius_off_them():
    """60 x 40 closed, cutter 10: the centre goes round 50 x 30; in and out by quarter circles of half the diameter."""
    assert wall_path(pocket(60, 40), 10) == pytest.approx(2 * (50 + 30) + math.pi * 5, abs=0.05)


def test_walls_on_either_side_of_a_slot_are_two_runs():
    seen = pocket(40, 16, "-x +x", "slot")
    assert wall_path(seen, 14) == pytest.approx(2 * (40 + math.pi * 7), abs=0.1)


@pytest.mark.parametrize(
    ("length", "width", "sides", "kind", "cutter", "share"),
    [
        (60, 40, "", "closed_pocket", 10, 0.5),
        (83, 37, "+x", "open_pocket", 16, 0.5),
        (90, 22, "-x +x", "slot", 12, 0.5),
        (120, 55, "-x +x +y", "step", 20, 0.5),
        (60, 40, "", "closed_pocket", 6, 0.3),
    ],
)
def test_nothing_stays_between_the_rings(length, width, sides, kind, cutter, share):
    """The cutter swept along its rings covers all that a cutter of its size can reach in the region.

    Reference: shapely's buffers, used here on the swept lines instead of the region.
    """
    seen = pocket(length, width, sides, kind)
    shape = region(seen)
    swept = unary_union(
        [ring.boundary.buffer(cutter / 2, quad_segs=32) for ring in rings(seen, cutter, share * cutter, 0.0)]
    )
    reachable = shape.intersection(opened(seen, shape, cutter).buffer(-cutter / 2).buffer(cutter / 2 - 0.01))
    assert reachable.difference(swept).area < 0.01 * reachable.area
    inside = opened(seen, shape, 3 * cutter)
    assert swept.difference(inside.buffer(0.02)).area < 0.05  # and never cuts into a wall


def test_slopes_and_pecks():
    """10 mm down at 5 degrees are 114.7 mm; four pecks of 10 mm with full retract go back 10, 20 and 30 mm and down again."""
    assert slope_length(10, 5) == pytest.approx(10 / math.sin(math.radians(5))) == pytest.approx(114.7, abs=0.05)
    assert peck_rapids(10, 4) == 2 * (10 + 20 + 30)
    assert peck_rapids(10, 1) == 0


def test_holes_are_visited_nearest_first():
    """Corners of 40 x 20 from a place beside the first: 3, then 20, 40, 20."""
    corners = [(0.0, 0.0), (40.0, 20.0), (0.0, 20.0), (40.0, 0.0)]
    length, end = _nearest_first((-3.0, 0.0), corners)
    assert length == pytest.approx(3 + 20 + 40 + 20) and end == (40.0, 0.0)
    assert _nearest_first(None, corners)[0] == pytest.approx(80)
