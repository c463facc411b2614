"""The search over holding against the solver's model with all rules: the same problems can be done, and the same cannot."""

from __future__ import annotations

import random

import pytest

from planner.setups.by_holding import Holding, within
from planner.setups.data import Mode, SetupProblem, Unit
from planner.setups.rules import RULES
from planner.setups.rules.fixtures import anywhere, forbid, where_forced
from planner.setups.solve import FEASIBLE, Budget, _model

SIDES = ("-x", "+x", "-y", "+y", "-z", "+z")


def some_units(rng: random.Random) -> list[Unit]:
    """Units with order, sides that they cut and levels that they open on, some of each."""
    units: list[Unit] = []
    for i in range(rng.randint(3, 7)):
        directions = tuple(rng.sample(range(4), rng.randint(1, 2)))
        names = [u.id for u in units]
        opens = {d: {(rng.choice(SIDES), rng.choice(SIDES)): rng.uniform(-2.0, 12.0)} for d in directions}
        cuts = {d: frozenset(rng.sample(SIDES, 1)) for d in directions if rng.random() < 0.4}
        before = {d: frozenset(rng.sample(names, 1)) for d in directions if names and rng.random() < 0.3}
        after = frozenset(n for n in names if rng.random() < 0.15)
        units.append(Unit(f"u{i}", directions, after, cuts=cuts, opens=opens, before=before))
    return units


def some_modes(rng: random.Random) -> tuple[Mode, ...]:
    """Vises with all that a mode can ask for, and a fixture for each direction."""
    modes = []
    for i, d in enumerate(rng.choices(range(4), k=6)):
        rest, pair = rng.choice([(r, p) for r in SIDES for p in "xyz" if p != r[1]])
        along = next(a for a in "xyz" if a not in (rest[1], pair))
        raw = frozenset(rng.sample(["-" + pair, rest], rng.randint(0, 1)))
        need, below = rng.choice([0.0, 5.0]), rng.choice([0.0, 4.0])
        ends = along if rng.random() < 0.4 else None
        grip = rng.random() < 0.2
        modes.append(Mode(f"m{i}", frozenset({d}), rest, pair, grip=grip, raw=raw, need=need, below=below, ends=ends))
    return (*modes, *(Mode(f"fixture {d}", frozenset({d}), fixture=True) for d in range(4)))


@pytest.mark.parametrize("policy", [anywhere, forbid, where_forced])
@pytest.mark.parametrize("seed", range(12))
def test_random_problems_against_the_model(seed: int, policy) -> None:
    rng = random.Random(seed)
    flat = frozenset(rng.sample(SIDES, 4))
    problem = SetupProblem(("a", "b", "c", "d"), tuple(some_units(rng)), some_modes(rng), flat)
    holding = Holding(problem, policy)
    some = frozenset(rng.sample([u.id for u in problem.units], 3))
    for names in (frozenset(u.id for u in problem.units), some):
        part = problem.only(names)
        for count in (1, 2, 3, 4):
            found = within(holding.only(names), count)
            _, status = Budget(20.0).run(_model(part, (*RULES, policy), count), 5.0)
            assert (found.slots is not None) == (status in FEASIBLE)
            assert found.never == (status not in FEASIBLE)
            if found.slots is not None:
                assert len(found.slots) == count
                assert sorted(u for slot in found.slots for u in slot.units) == sorted(names)


def test_where_steps_run_out_nothing_is_said_to_be_proven() -> None:
    rng = random.Random(1)
    problem = SetupProblem(("a", "b", "c", "d"), tuple(some_units(rng)), some_modes(rng), frozenset(SIDES))
    found = within(Holding(problem, anywhere), 4, max_steps=1)
    assert found.slots is None
    assert not found.never
