"""Each rule of the setup model alone: build it, fix some unknowns, ask whether that is feasible.

Source of truth: the rule's own sentence (design.md section 2, 'Choices'), worked out by hand for two or three slots.
"""

from __future__ import annotations

import pytest
from ortools.sat.python import cp_model

from planner.setups import Mode, SetupProblem, Unit
from planner.setups.rules import (
    clamping_continues,
    cut_once,
    facing_first,
    fixtures,
    held_sides,
    one_direction,
    one_mode,
    parents_first,
    raw_grip,
)
from planner.setups.variables import Variables

UP, DOWN, SIDE = 0, 1, 2
NAMES = ("+z", "-z", "+x")
VISE = Mode("vise", frozenset({UP}), rest="-z", pair="x")
TURNED = Mode("turned", frozenset({DOWN}), rest="+z", pair="x")
GRIP = Mode("grip", frozenset({UP}), rest="-z", pair="x", grip=True)
FIXTURE = Mode("fixture", frozenset({UP, DOWN, SIDE}), fixture=True)


def problem(*units, modes=(VISE, TURNED, FIXTURE), flat=(), several=False):
    return SetupProblem(NAMES, tuple(units), tuple(modes), frozenset(flat), several)


def feasible(problem, slots, *rules, fixed=()):
    """Whether the rules hold with some unknowns fixed to (true or false)."""
    v = Variables(cp_model.CpModel(), problem, slots)
    for rule in rules:
        rule(v)
    for choose, value in fixed:
        v.model.add(choose(v) == value)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    return solver.solve(v.model) in (cp_model.OPTIMAL, cp_model.FEASIBLE)


def cut(unit, slot, direction):
    return lambda v: v.cut[unit, slot, direction]


def held(slot, mode):
    return lambda v: v.mode[slot, [m.id for m in v.problem.modes].index(mode)]


def turned(slot, direction):
    return lambda v: v.direction[slot, direction]


def test_one_direction_allows_one_and_not_two():
    p = problem(Unit("a", (UP,)))
    assert feasible(p, 1, one_direction.add, fixed=[(turned(0, UP), 1)])
    assert not feasible(p, 1, one_direction.add, fixed=[(turned(0, UP), 1), (turned(0, SIDE), 1)])
    assert not feasible(p, 1, one_direction.add, fixed=[(turned(0, d), 0) for d in (UP, DOWN, SIDE)])


def test_cut_once_needs_the_slots_direction_and_only_one_slot():
    p = problem(Unit("a", (UP, DOWN)))
    assert not feasible(p, 1, cut_once.add, one_direction.add, fixed=[(turned(0, SIDE), 1)])
    assert feasible(p, 1, cut_once.add, one_direction.add, fixed=[(turned(0, DOWN), 1)])
    assert not feasible(p, 2, cut_once.add, fixed=[(cut("a", 0, UP), 1), (cut("a", 1, UP), 1)])
    assert not feasible(p, 1, cut_once.add, fixed=[(cut("a", 0, UP), 0), (cut("a", 0, DOWN), 0)])


def test_parents_first_allows_the_same_slot_and_a_later_one_only():
    p = problem(Unit("parent", (UP,)), Unit("child", (UP,), after=frozenset({"parent"})))
    rules = (cut_once.add, parents_first.add)
    assert feasible(p, 2, *rules, fixed=[(cut("parent", 0, UP), 1), (cut("child", 0, UP), 1)])
    assert feasible(p, 2, *rules, fixed=[(cut("parent", 0, UP), 1), (cut("child", 1, UP), 1)])
    assert not feasible(p, 2, *rules, fixed=[(cut("parent", 1, UP), 1), (cut("child", 0, UP), 1)])


def test_facing_first_binds_only_from_the_direction_of_the_raw_layer():
    p = problem(Unit("face", (UP,)), Unit("hole", (UP, DOWN), uncovers={UP: "face"}))
    rules = (cut_once.add, facing_first.add)
    assert not feasible(p, 2, *rules, fixed=[(cut("hole", 0, UP), 1), (cut("face", 1, UP), 1)])
    assert feasible(p, 2, *rules, fixed=[(cut("hole", 0, DOWN), 1), (cut("face", 1, UP), 1)])
    assert feasible(p, 1, *rules, fixed=[(cut("hole", 0, UP), 1)])


def test_one_mode_leaves_the_direction_open():
    p = problem(Unit("a", (UP,)), modes=(VISE, TURNED))
    rules = (one_direction.add, one_mode.add)
    assert feasible(p, 1, *rules, fixed=[(turned(0, UP), 1), (held(0, "vise"), 1)])
    assert not feasible(p, 1, *rules, fixed=[(turned(0, UP), 1), (held(0, "turned"), 1)])
    assert not feasible(p, 1, *rules, fixed=[(turned(0, SIDE), 1)])


@pytest.mark.parametrize("side, kept", [("-z", False), ("+x", False), ("-x", False), ("+y", True), ("+z", True)])
def test_held_sides_are_not_cut_in_the_same_slot(side, kept):
    """The vise rests on -z and clamps -x and +x."""
    p = problem(Unit("a", (UP,), cuts={UP: frozenset({side})}), flat=("-z", "+x", "-x", "+y", "+z"))
    assert feasible(p, 1, held_sides.add, fixed=[(held(0, "vise"), 1), (cut("a", 0, UP), 1)]) is kept


def test_a_side_cut_before_can_be_held_only_when_it_is_flat():
    unit = Unit("a", (DOWN,), cuts={DOWN: frozenset({"-z"})})
    fixed = [(cut("a", 0, DOWN), 1), (held(1, "vise"), 1)]
    assert feasible(problem(unit, flat=("-z",)), 2, held_sides.add, fixed=fixed)
    assert not feasible(problem(unit, flat=()), 2, held_sides.add, fixed=fixed)


def test_a_raw_side_counts_until_it_is_cut():
    unit = Unit("a", (DOWN,), cuts={DOWN: frozenset({"-z"})})
    assert feasible(problem(unit), 2, held_sides.add, fixed=[(held(0, "vise"), 1), (cut("a", 1, DOWN), 1)])


def test_raw_grip_lets_the_pair_be_cut_while_its_layer_is_whole():
    unit = Unit("sides", (UP,), cuts={UP: frozenset({"-x", "+x", "-y", "+y"})})
    p = problem(unit, modes=(VISE, GRIP))
    rules = (held_sides.add, raw_grip.add, clamping_continues.add)
    assert feasible(p, 1, *rules, fixed=[(held(0, "grip"), 1), (cut("sides", 0, UP), 1)])
    assert not feasible(p, 1, *rules, fixed=[(held(0, "vise"), 1), (cut("sides", 0, UP), 1)])
    slot = Unit("slot", (DOWN,), opens={DOWN: {("+x", "-z"): 3.0}})
    eaten = problem(unit, slot, modes=(VISE, GRIP, TURNED))
    assert feasible(eaten, 2, *rules, fixed=[(held(0, "grip"), 1), (cut("slot", 1, DOWN), 1)])
    assert not feasible(eaten, 2, *rules, fixed=[(held(1, "grip"), 1), (cut("slot", 0, DOWN), 1)])


def test_raw_grip_needs_the_rest_side_raw():
    p = problem(Unit("bottom", (DOWN,), cuts={DOWN: frozenset({"-z"})}), modes=(GRIP, TURNED), flat=("-z",))
    assert not feasible(p, 1, held_sides.add, raw_grip.add, fixed=[(held(0, "grip"), 1), (cut("bottom", 0, DOWN), 1)])


def test_a_clamping_goes_on_only_where_the_machine_turns_the_part():
    tilting = Mode("tilting", frozenset({UP, SIDE}), rest="-z", pair="y")
    same = [(lambda v: v.same[1], 1)]
    five = problem(Unit("a", (UP,)), modes=(tilting, FIXTURE), several=True)
    rules = (one_mode.add, clamping_continues.add)
    assert feasible(five, 2, *rules, fixed=same)
    assert not feasible(five, 2, *rules, fixed=[*same, (held(0, "tilting"), 1), (held(1, "fixture"), 1)])
    assert not feasible(five, 2, *rules, fixed=[*same, (held(1, "fixture"), 1)])
    assert not feasible(problem(Unit("a", (UP,)), modes=(tilting,)), 2, *rules, fixed=same)


def test_fixtures_are_forbidden_where_a_vise_exists():
    p = problem(Unit("a", (UP, SIDE)), modes=(VISE, Mode("f0", frozenset({UP}), fixture=True), Mode("f2", frozenset({SIDE}), fixture=True)))  # fmt: skip
    assert not feasible(p, 1, fixtures.forbid, fixed=[(held(0, "f0"), 1)])
    assert feasible(p, 1, fixtures.forbid, fixed=[(held(0, "f2"), 1)])


def test_fixtures_where_forced_go_with_the_unit_that_no_vise_holds():
    all_round = Unit("ring", (UP,), cuts={UP: frozenset({"-x", "+x", "-y", "+y"})})
    p = problem(all_round, Unit("a", (UP,)), modes=(VISE, Mode("f0", frozenset({UP}), fixture=True)))
    assert fixtures.needs_fixture(p, all_round) and not fixtures.needs_fixture(p, p.units[1])
    rules = (cut_once.add, fixtures.where_forced)
    assert feasible(p, 2, *rules, fixed=[(held(0, "f0"), 1), (cut("ring", 0, UP), 1)])
    assert not feasible(p, 2, *rules, fixed=[(held(0, "f0"), 1), (cut("ring", 1, UP), 1)])


def test_the_problem_checks_itself():
    with pytest.raises(ValueError, match="no direction"):
        problem(Unit("a", ()))
    with pytest.raises(ValueError, match="unknown units"):
        problem(Unit("a", (UP,), after=frozenset({"nobody"})))
    with pytest.raises(ValueError, match="share an id"):
        problem(Unit("a", (UP,)), Unit("a", (UP,)))
    with pytest.raises(ValueError, match="not listed"):
        problem(Unit("a", (7,)))
