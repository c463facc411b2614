"""The order of goals and their prices: fewest clampings before fewest setups, or what the job asks for.

Problems are small enough to be enumerated or reckoned by hand.
"""

from __future__ import annotations

import pytest

from planner import plan
from planner.setups import Mode, SetupProblem, Unit, solve
from planner.setups.goals import prices_of
from planner.setups.solve import clampings_of
from shared.errors import UsageError
from tests.setups.parts import bracket

UP, DOWN, SIDE = 0, 1, 2
NAMES = ("+z", "-z", "+x")


def three_or_two():
    """Two directions cut all in two setups, held twice; three setups in one clamping do it too.

    `a` is cut from above or from beside, `b` only from above with the first way to hold or from below; `both` leaves
    +z and +x open but not -z: with it `c`, cut from +x or -z, needs a setup more.
    """
    units = (Unit("a", (UP,)), Unit("b", (SIDE,)), Unit("c", (DOWN,)))
    table = Mode("table", frozenset({UP, SIDE, DOWN}), rest="-y", pair="x")
    vise = Mode("vise", frozenset({UP}), rest="-z", pair="x")
    return SetupProblem(NAMES, units, (vise, table), frozenset(), True)


def extra_setup():
    """In order 1-2-3-4 from up, beside, up, beside: `p` before `q`. Held so that nothing turns, 2 setups in 2 clampings
    do; the mode that turns needs `late` cut from above after `q`: 3 setups in 1 clamping."""
    late = Unit("late", (UP, DOWN), after=frozenset({"q"}))
    units = (Unit("p", (UP,)), Unit("q", (SIDE, DOWN), after=frozenset({"p"})), late)
    turning = Mode("turning", frozenset({UP, SIDE}), rest="-z", pair="y")
    below = Mode("below", frozenset({DOWN}), rest="+z", pair="y")
    return SetupProblem(NAMES, units, (turning, below), frozenset(), True)


def test_one_clamping_is_proven_where_one_will_do():
    found = solve(three_or_two())
    assert (len(found.slots), found.clampings, found.least_clampings) == (3, 1, 1)


def test_fewer_clampings_come_before_fewer_setups():
    """p from above, q from beside, late from above again: 3 setups, never let go; or p above, q and late from below: 2."""
    found = solve(extra_setup())
    assert (len(found.slots), found.clampings, found.least_clampings, found.status) == (3, 1, 1, "optimal")
    assert "2 setups would do in 2 clampings" in found.notes[-1]


def test_the_job_may_turn_them_round():
    found = solve(extra_setup(), prices=prices_of(["setups", "clampings"]))
    assert (len(found.slots), clampings_of(found.slots), found.status) == (2, 2, "optimal")


@pytest.mark.parametrize(
    "weights, expected",
    [({"clampings": 10.0, "setups": 1.0}, (3, 1)), ({"clampings": 1.0, "setups": 3.0}, (2, 2))],
)
def test_prices_are_weighed_against_each_other(weights, expected):
    """3 setups in 1 clamping against 2 in 2: 13 to 22 at 10 and 1, 10 to 8 at 1 and 3."""
    found = solve(extra_setup(), prices=prices_of(weights=weights))
    assert (len(found.slots), clampings_of(found.slots)) == expected


def test_minutes_may_come_first():
    """`a` takes 9 minutes from above and 1 from beside, which costs a setup more: worth it when minutes come first."""
    a = Unit("a", (UP, SIDE), minutes={UP: 9.0, SIDE: 1.0})
    units = (a, Unit("b", (UP,), minutes={UP: 1.0}))
    modes = (Mode("up", frozenset({UP}), "-z", "x"), Mode("side", frozenset({SIDE}), "-x", "y"))
    problem = SetupProblem(NAMES, units, modes)
    assert len(solve(problem).slots) == 1
    assert len(solve(problem, prices=prices_of(["minutes"])).slots) == 2
    assert len(solve(problem, prices=prices_of(weights={"minutes": 1.0, "setups": 10.0})).slots) == 1
    assert len(solve(problem, prices=prices_of(weights={"minutes": 1.0, "setups": 5.0})).slots) == 2


def test_the_plan_says_what_is_proven_of_clampings():
    for axes, count in ((3, 6), (4, 2), (5, 2)):
        proof = plan(bracket().document(), {"axes": axes}).proof
        assert (proof.clampings.count, proof.clampings.lower_bound, proof.clampings.status) == (count, count, "optimal")


@pytest.mark.parametrize(
    "job", [{"goals": ["minutes", "minutes"]}, {"weights": {"setups": -1}}, {"weights": {"setups": 0}}]
)
def test_goals_that_cannot_be_used(job):
    with pytest.raises(UsageError) as caught:
        plan(bracket().document(), job)
    assert caught.value.where == next(iter(job))
