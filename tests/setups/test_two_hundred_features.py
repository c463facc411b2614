"""A part of 200 features on six sides, pockets in pockets and holes in them: everything proven, and the same twice.

Drawn at random with a fixed seed: nobody picked it because it is easy. Planning it takes a few seconds.
"""

from __future__ import annotations

import random

import pytest

from planner import plan
from tests.setups.parts import Block

SIDES = ("+x", "-x", "+y", "-y", "+z", "-z")


def part(count, seed):
    """A block of 400 x 300 x 120 mm; a quarter of its cuts open on another cut, which must then come first."""
    rng = random.Random(seed)
    block, names = Block((400.0, 300.0, 120.0)), []
    for _ in range(count - 6):
        side = rng.choice(SIDES)
        across = block.extents(side)
        at = (rng.uniform(10, across[0] - 60), rng.uniform(10, across[1] - 40))
        inside = [block.side_faces[side]]
        if names and rng.random() < 0.25:
            inside.append(rng.choice(names))
        if rng.random() < 0.4:
            far = (at[0] + rng.choice((15, 30, 45)), at[1] + rng.choice((15, 25)))
            cut = block.pocket(side, at, far, rng.choice((5, 8, 12)), corner=rng.choice((3, 4, 5, 6)), inside=inside)
        else:
            size, depth = rng.choice((3.3, 4.2, 5, 6.8, 8.5, 10.2, 12)), rng.choice((None, 10, 20))
            cut = block.hole(side, at, size, depth=depth, inside=inside)
        names.append(cut)
    return block.document()


@pytest.fixture(scope="module")
def planned():
    document = part(200, 1)
    return document, plan(document)


def test_setups_and_cutter_changes_are_proven(planned):
    document, result = planned
    assert len(document.features) == 200 and result.totals.operations > 400
    assert (result.proof.setups.status, result.proof.setups.count) == ("optimal", result.proof.setups.lower_bound)
    assert any(f.code == "tool_changes" and "proven fewest" in f.message for f in result.findings)


def test_it_is_sound_and_nothing_is_forgotten(planned):
    document, result = planned
    assert result.proof.checker == []
    cut = {f for s in result.setups for op in s.operations for f in op.features}
    refused = {u.feature for u in result.unplanned}
    assert cut | refused == {f.id for f in document.features} and not cut & refused
    assert all(u.reason for u in result.unplanned), "holes of 3.3 mm right through 400 mm: no drill is so long"


def test_the_same_plan_twice(planned):
    document, result = planned
    assert plan(document).to_json() == result.to_json()
