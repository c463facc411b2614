"""The fewest setups of small problems whose answer follows by hand, and of random ones against exhaustive search."""

from __future__ import annotations

import itertools
import random

import pytest

from planner.setups import EdgeGroup, SetupProblem, Unit, modes_for, solve
from planner.setups.greedy import greedy
from planner.stock import SIDES, Stock

FRAME = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
PX, MX, PY, MY, PZ, MZ = (SIDES.index(s) for s in ("+x", "-x", "+y", "-y", "+z", "-z"))


def problem(*units, axes=3, allowance=(2.0,) * 6, flat=SIDES):
    stock = Stock(FRAME, (0, 0, 0), (100, 60, 20), allowance, "test")
    modes = modes_for([stock.direction(s) for s in SIDES], stock, axes)
    return SetupProblem(SIDES, tuple(units), modes, frozenset(flat), axes > 3)


def face(side, *mill_from, uncovers=None):
    """The planar face of a side: faced from its own direction or milled from others."""
    own = SIDES.index(side)
    directions = (own, *mill_from)
    return Unit(f"face {side}", directions, uncovers=uncovers or {}, cuts={d: frozenset({side}) for d in directions})


def summary(solution):
    return len(solution.slots), solution.lower_bound, solution.status


def test_one_direction_that_all_share_is_one_setup():
    found = solve(problem(Unit("a", (PZ, PX)), Unit("b", (PZ, MY)), Unit("c", (PZ,))))
    assert summary(found) == (1, 1, "optimal")
    assert found.slots[0].direction == PZ


def test_hitting_set_not_greedy():
    """Greedy takes +z (four units) and then needs two more; {+x, -x} hits all six."""
    ways = {"a": (PX, PZ), "b": (PX, PZ), "c": (PX,), "d": (MX, PZ), "e": (MX, PZ), "f": (MX,)}
    units = [Unit(name, directions) for name, directions in ways.items()]
    assert len(greedy(problem(*units))) == 3
    assert summary(solve(problem(*units))) == (2, 2, "optimal")


def test_order_forces_a_direction_twice():
    """a (+z) before b (+x) before c (+z): a plain cover has 2 directions, the order needs +z, +x, +z."""
    units = [Unit("a", (PZ,)), Unit("b", (PX,), frozenset({"a"})), Unit("c", (PZ,), frozenset({"b"}))]
    found = solve(problem(*units))
    assert summary(found) == (3, 3, "optimal")
    assert [s.direction for s in found.slots] == [PZ, PX, PZ]
    assert set(found.core) == {"a", "b", "c"}
    assert not found.clamping_forces


def test_order_with_a_choice_does_not_force_it():
    """As above, but b can be cut from +z too: one setup, b after a and before c within it."""
    units = [Unit("a", (PZ,)), Unit("b", (PX, PZ), frozenset({"a"})), Unit("c", (PZ,), frozenset({"b"}))]
    assert summary(solve(problem(*units))) == (1, 1, "optimal")


def test_six_faces_from_their_own_directions_are_six_setups():
    found = solve(problem(*(face(s) for s in SIDES)))
    assert summary(found) == (6, 6, "optimal")
    assert not any(s.mode.fixture for s in found.slots)


def test_six_faces_with_milled_walls_are_two_setups():
    """From +z: top and two walls while the vise holds the other two; from -z the rest, held on the finished walls."""
    walls = [face(s, PZ, MZ) for s in ("+x", "-x", "+y", "-y")]
    found = solve(problem(face("+z"), face("-z"), *walls))
    assert summary(found) == (2, 2, "optimal")
    for slot in found.slots:
        cut = {u.removeprefix("face ") for u in slot.units}
        assert not cut & slot.mode.sides


def test_holding_alone_can_force_a_setup():
    """Four walls, each milled only from +z: nothing is left to clamp in one setup, two setups of two walls each do."""
    walls = [Unit(f"wall {s}", (PZ,), cuts={PZ: frozenset({s})}) for s in ("+x", "-x", "+y", "-y")]
    found = solve(problem(*walls))
    assert summary(found) == (2, 2, "optimal")
    assert [s.direction for s in found.slots] == [PZ, PZ]
    assert found.clamping_forces and "holding the workpiece forces 1 more" in found.notes[0]


def test_a_thick_raw_layer_below_can_be_gripped_instead():
    """The same four walls with 6 mm below the part: the jaws grip that, one setup. With 4 mm they cannot (5 needed)."""
    walls = [Unit(f"wall {s}", (PZ,), cuts={PZ: frozenset({s})}) for s in ("+x", "-x", "+y", "-y")]
    assert summary(solve(problem(*walls, allowance=(2, 2, 2, 2, 6, 2)))) == (1, 1, "optimal")
    assert len(solve(problem(*walls, allowance=(2, 2, 2, 2, 4, 2))).slots) == 2


def test_a_round_profile_that_takes_all_sides_needs_a_fixture():
    ring = Unit("ring", (PZ, MZ), cuts={d: frozenset({"+x", "-x", "+y", "-y"}) for d in (PZ, MZ)})
    found = solve(problem(face("+z"), face("-z"), ring, flat=("+z", "-z")))
    assert len(found.slots) == 2
    assert [s.mode.fixture for s in found.slots].count(True) == 1
    assert found.slots[1].mode.fixture, "the profile comes last, so that the first setup still has raw sides to hold"


@pytest.mark.parametrize("axes, clampings", [(3, 6), (4, 2), (5, 2)])
def test_clampings_of_six_faces(axes, clampings):
    """4 axes: four faces round x held by the ends, then the ends. 5 axes: a vise hides two sides and the rest one."""
    found = solve(problem(*(face(s) for s in SIDES), axes=axes))
    assert len(found.slots) == 6
    assert sum(not s.same_clamping for s in found.slots) == clampings


def test_five_axes_reach_five_sides_in_one_clamping():
    """Holes from five sides, no face to cut: one clamping on 5 axes, five setups on every machine."""
    holes = [Unit(f"hole {SIDES[d]}", (d,)) for d in (PX, MX, PY, MY, PZ)]
    for axes, clampings in ((3, 5), (4, 2), (5, 1)):
        found = solve(problem(*holes, axes=axes))
        assert summary(found) == (5, 5, "optimal")
        assert sum(not s.same_clamping for s in found.slots) == clampings


def test_fewest_cutters_decide_among_equal_setups():
    """a needs +z, b needs -z; c can go to either and shares its cutter with b only."""
    a = Unit("a", (PZ,), tools={PZ: frozenset({"T1"})})
    b = Unit("b", (MZ,), tools={MZ: frozenset({"T2"})})
    c = Unit("c", (PZ, MZ), tools={d: frozenset({"T2"}) for d in (PZ, MZ)})
    found = solve(problem(a, b, c))
    assert next(s for s in found.slots if "c" in s.units).direction == MZ


def test_nothing_to_cut_is_no_setup():
    assert summary(solve(problem())) == (0, 0, "optimal")


def test_the_same_problem_gives_the_same_answer():
    units = [Unit(f"u{i}", tuple(random.Random(i).sample(range(6), 2))) for i in range(12)]
    assert solve(problem(*units)) == solve(problem(*units))


def exhaustive(units):
    """Fewest setups by order alone: breadth-first over sequences of directions, each taking all that it can cut."""
    start, goal = frozenset(), frozenset(u.id for u in units)
    front, count = {start}, 0
    while goal not in front:
        count += 1
        after = set()
        for done, d in itertools.product(front, range(6)):
            grown, grew = set(done), True
            while grew:
                ready = [u for u in units if u.id not in grown and d in u.directions and u.after <= grown]
                grew = bool(ready)
                grown |= {u.id for u in ready}
            after.add(frozenset(grown))
        front = after
    return count


@pytest.mark.parametrize("seed", range(12))
def test_random_orders_against_exhaustive_search(seed):
    """Cutting all that can be cut is never worse, so breadth-first over directions is exact: an independent check."""
    rng = random.Random(seed)
    units = []
    for i in range(9):
        parents = frozenset(f"u{j}" for j in range(i) if rng.random() < 0.25)
        units.append(Unit(f"u{i}", tuple(rng.sample(range(6), rng.choice((1, 1, 2, 3)))), parents))
    found = solve(problem(*units))
    assert found.status == "optimal"
    assert len(found.slots) == exhaustive(units)


@pytest.mark.parametrize("seed", range(4))
def test_every_unit_of_the_core_is_needed(seed):
    """Without any one unit of the core, the others can be cut in fewer setups; with all of them they cannot."""
    rng = random.Random(100 + seed)
    units = [Unit(f"u{i}", tuple(rng.sample(range(6), 2))) for i in range(8)]
    whole = problem(*units)
    found = solve(whole)
    core = frozenset(found.core)
    assert len(solve(whole.only(core)).slots) == len(found.slots)
    for name in core:
        assert len(solve(whole.only(core - {name})).slots) < len(found.slots)


def test_setups_are_ordered_so_that_edges_can_be_broken():
    """Edges between a (+z) and b (+x) are seen from +z only: +z must come second, whatever the units' own order says."""
    a, b = Unit("a", (PZ,)), Unit("b", (PX,))
    for units in ((a, b), (b, a)):
        p = problem(*units)
        p = SetupProblem(
            p.directions, p.units, p.modes, p.flat, False, (EdgeGroup(frozenset("ab"), frozenset({PZ}), 4),)
        )
        assert [s.direction for s in solve(p).slots] == [PX, PZ]
