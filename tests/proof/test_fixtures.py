"""Jaws where the plan says that they press."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from planner.proof.fixtures import jaws_of
from planner.setups.contact import JAW_THICK
from shared.plan import Clamping


def clamping(**more):
    said = {
        "id": "c1",
        "rest_faces": [],
        "clamp_faces": [],
        "rest_on": "",
        "clamp_on": "",
        "device": "vise",
        "rest_side": "-z",
        "clamp_sides": ["-x", "+x"],
        "grip_height": 12.0,
        "jaw_width": 40.0,
    }
    return Clamping(**(said | more))


def stepped(axis, other, low, high):
    """A block 60 x 50 x 30 whose lower half is 10 mm narrower in x on each side."""
    narrow = other == 2 and high <= 15.0
    return [((10.0, 50.0) if narrow else (0.0, 60.0)), (0.0, 50.0), (0.0, 30.0)][axis]


def test_jaws_press_on_what_they_reach():
    left, right = jaws_of(clamping(), stepped)
    assert_allclose([left.low, left.high], [[10 - JAW_THICK, 5, 0], [10, 45, 12]])
    assert_allclose([right.low, right.high], [[50, 5, 0], [50 + JAW_THICK, 45, 12]])


def test_a_part_that_rests_on_its_upper_side_is_gripped_there():
    left, _ = jaws_of(clamping(rest_side="+z"), stepped)
    assert_allclose([left.low, left.high], [[-JAW_THICK, 5, 18], [0, 45, 30]])


@pytest.mark.parametrize("more", [{"device": "fixture"}, {"grip_height": None}, {"clamp_sides": []}])
def test_where_nothing_is_said_there_are_no_jaws(more):
    assert jaws_of(clamping(**more), stepped) == []


def test_empty_levels_hold_nothing():
    assert jaws_of(clamping(), lambda axis, other, low, high: None if np.isfinite(low) else (0.0, 1.0)) == []
