"""The stock: allowances a side, boxes, and what is refused. Values by arithmetic on the part's box."""

from __future__ import annotations

import math

import pytest

from planner.stock import SIDES, opposite, stock_of
from shared.errors import UsageError
from shared.features import Box
from shared.plan import Job
from tests.setups.parts import Block

PART = Block((100.0, 60.0, 20.0)).document().part


def stock(**job):
    return stock_of(Job(**job), PART)


def test_default_is_two_millimetres_a_side():
    assert [stock().extra(s) for s in SIDES] == [2.0] * 6
    assert stock().document().size == (104.0, 64.0, 24.0)


def test_six_numbers_are_minus_x_plus_x_and_so_on():
    s = stock(stock=[0, 1, 2, 3, 4, 5])
    assert [s.extra(side) for side in ("-x", "+x", "-y", "+y", "-z", "+z")] == [0, 1, 2, 3, 4, 5]
    assert s.raw_level("+x") == 101.0 and s.raw_level("-y") == 2.0 and s.part_level("-z") == 0.0


def test_a_given_box_is_measured_against_the_part():
    """Box from (-1, 0, -6) to (103, 60, 22) round a part from 0 to (100, 60, 20)."""
    s = stock(stock="block.step", stock_box=Box(min=(-1, 0, -6), max=(103, 60, 22)))
    assert [s.extra(side) for side in SIDES] == [1, 3, 0, 0, 6, 2]
    assert "block.step" in s.source


@pytest.mark.parametrize("bad", [-1.0, [1, 2, 3], [1] * 7, [0, 0, 0, 0, 0, -0.1], math.inf, "block.step"])
def test_impossible_stock_is_refused_with_a_hint(bad):
    with pytest.raises(UsageError) as error:
        stock(stock=bad)
    assert error.value.hint


def test_a_stock_that_does_not_hold_the_part_is_refused():
    with pytest.raises(UsageError, match=r"5\.000 mm missing on \+z"):
        stock(stock="block.step", stock_box=Box(min=(0, 0, 0), max=(100, 60, 15)))


def test_sides_know_their_opposite_and_direction():
    s = stock()
    assert opposite("-x") == "+x" and s.direction("-y") == (0.0, -1.0, 0.0)
    assert s.side_of((0.0, 0.0, 1.0)) == "+z" and s.side_of((0.0, 0.6, 0.8)) is None


def test_a_turned_part_has_its_stock_along_its_own_axes():
    """Part axes turned 30 degrees about z: +x of the stock looks along (cos 30, sin 30, 0)."""
    c, d = math.cos(math.radians(30)), math.sin(math.radians(30))
    part = Block(frame=[(c, d, 0.0), (-d, c, 0.0), (0.0, 0.0, 1.0)]).document().part
    s = stock_of(Job(), part)
    assert s.direction("+x") == pytest.approx((c, d, 0.0))
    assert s.side_of((-c, -d, 0.0)) == "-x" and s.side_of((1.0, 0.0, 0.0)) is None
