"""Jaws as part of the model: on faces that exist and are large enough, below every cut over them, within the opening.

Figures are the blocks' own; grip heights, gaps and jaw sizes are the shop's data (shared.plan.Vise): common practice, no
source.
"""

from __future__ import annotations

import random

import pytest
from shapely import box

from planner import plan
from planner.setups import Mode, SetupProblem, Unit, solve
from planner.setups.contact import GAP, Grips
from planner.setups.data import Slot
from planner.setups.jaws import allows, clash
from planner.setups.rules import RULES
from planner.setups.rules.fixtures import anywhere
from planner.setups.solve import Budget, _model
from planner.stock import SIDES, Stock
from shared.plan import Vise
from tests.setups.parts import Block

FRAME = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


def open_pocket(depth, side="+y", block=None):
    """A plate of 100 x 60 x 20 with a pocket from +z that is open on one side."""
    block = block or Block((100.0, 60.0, 20.0))
    block.pocket("+z", (20.0, 0.0), (80.0, 60.0), depth, kind="open_pocket")
    document = block.document()
    for s in document.features[-1].views[0].sides:
        s.open = s.start[1] == s.end[1] == (60.0 if side == "+y" else 0.0)
    return document


def held(result, direction):
    setup = next(s for s in result.setups if s.direction == direction)
    return next(c for c in result.clampings if c.id == setup.clamping)


@pytest.mark.parametrize("depth, free", [(5.0, True), (14.0, True), (14.5, False), (18.0, False)])
def test_jaws_stay_below_what_runs_out_over_them(depth, free):
    """Least grip 5 mm and 1 mm of room: over +y a pocket may be 14 mm deep in 20 mm; deeper, the ends -x and +x are held."""
    document = open_pocket(depth)
    result = plan(document, {"stock": 0.0, "vise": {"jaw_widths": [50.0]}})
    clamping = held(result, (0.0, 0.0, 1.0))
    assert result.proof.checker == [] and clamping.device == "vise"
    if "+y" in clamping.clamp_sides:
        assert free and clamping.grip_height <= 20.0 - depth - GAP + 1e-9
    else:
        assert clamping.clamp_sides == ["-x", "+x"]
    only_y = plan(document, {"stock": 0.0, "vise": {"opening": 60.0}})
    assert (held(only_y, (0.0, 0.0, 1.0)).clamp_sides == ["-y", "+y"]) is free


def test_stock_below_lifts_the_part_out_of_the_jaws():
    """18 mm deep leaves 2 mm: with 6 mm of raw stock below, on raw sides, the jaws stand 7 mm high and hold it."""
    result = plan(open_pocket(18.0), {"stock": [0, 0, 2, 2, 6, 2], "vise": {"opening": 70.0}})
    clamping = held(result, (0.0, 0.0, 1.0))
    assert clamping.clamp_sides == ["-y", "+y"] and clamping.grip_height == pytest.approx(7.0)
    assert clamping.rest_on == "raw side -z" and result.proof.checker == []


def test_wider_than_the_vise_goes_onto_the_table():
    """300 x 250 mm: no pair closes in 200 mm when it lies flat, so side clamps hold it on the table."""
    block = Block((300.0, 250.0, 40.0))
    block.pocket("+z", (50.0, 50.0), (100.0, 100.0), 10)
    clamping = held(plan(block.document(), {"stock": 0.0}), (0.0, 0.0, 1.0))
    assert clamping.device == "table_clamps" and clamping.opening in (300.0, 250.0)
    wide = held(plan(block.document(), {"stock": 0.0, "vise": {"opening": 260.0}}), (0.0, 0.0, 1.0))
    assert wide.device == "vise" and wide.opening == 250.0


def test_both_ends_are_cut_only_beside_jaws_short_enough():
    """Walls -x and +x milled from +z: 100 mm less 2 mm a side takes jaws of 80 mm; a shop with 150 mm alone needs more."""
    block = Block((100.0, 60.0, 20.0), sides=("-y", "+y", "-z", "+z"))
    for side in ("-x", "+x"):
        block.planar_face(side, mill_from=("+z",))
    block.pocket("+z", (20.0, 10.0), (80.0, 50.0), 5)
    document = block.document()
    few = plan(document)
    assert held(few, (0.0, 0.0, 1.0)).jaw_width == 80.0
    wide = plan(document, {"vise": {"jaw_widths": [150.0]}})
    assert wide.totals.setups > few.totals.setups and not few.proof.checker + wide.proof.checker


def test_a_hole_across_the_jaws_is_drilled_in_another_clamping():
    """Five axes: a hole 8 mm above the rest side from +x has no room for the holder beside jaws on -x and +x."""
    low, high = Block((100.0, 60.0, 80.0)), Block((100.0, 60.0, 80.0))
    for block, z in ((low, 8.0), (high, 70.0)):
        block.hole("+x", (30.0, z), 6.0, depth=10)
        block.hole("+z", (50.0, 30.0), 8.5, depth=10)
    result = plan(low.document(), {"stock": 0.0, "axes": 5})
    assert all("+x" not in c.clamp_sides or c.rest_side != "-z" for c in result.clampings)
    assert result.proof.checker == [] == plan(high.document(), {"stock": 0.0, "axes": 5}).proof.checker


def grips(flats=None, allowance=(0.0,) * 6, **vise):
    stock = Stock(FRAME, (0.0, 0.0, 0.0), (100.0, 60.0, 20.0), allowance, "test")
    return Grips(stock, Vise(**vise), flats or {})


def test_contact_is_what_faces_each_other():
    """Faces of 40 x 10 and 30 x 20 mm that overlap over 20 x 10 mm, 4 of them under the jaws' 6 mm: 20 x 4 = 80 mm2."""
    g = grips({"-y": box(0, 2, 40, 12), "+y": box(20, 0, 50, 20)})
    area, length = g.facing("-z", "y", frozenset(), 6.0)
    assert (area, length) == (pytest.approx(80.0), pytest.approx(20.0))
    assert g.facing("-z", "y", frozenset(), 6.0, width=50.0)[0] == pytest.approx(15.0 * 4.0), "jaws from 25 to 75"


def test_faces_that_miss_each_other_hold_nothing():
    g = grips({"-y": box(0, 0, 40, 20), "+y": box(60, 0, 100, 20)})
    assert list(g.states("-z", "y")) == []
    raw = grips({"-y": box(0, 0, 40, 20), "+y": box(60, 0, 100, 20)}, allowance=(2.0,) * 6)
    assert [set(sides) for sides, _ in raw.states("-z", "y")] == [{"-y"}, {"+y"}]


def test_a_high_face_needs_high_jaws():
    """Flat from 12 mm upwards only: 5 mm jaws touch nothing, 15 mm jaws touch 3 mm over 100 mm."""
    g = grips({"-y": box(0, 12, 100, 20)})
    assert list(g.states("-z", "y")) == [(frozenset(), 15.0)]


def test_the_model_and_the_search_without_it_agree():
    """On random problems a mode is allowed exactly where the model with all rules accepts the same two setups."""
    rng = random.Random(5)
    seen = set()
    for _ in range(15):
        units = [_unit(rng, name) for name in "ab"]
        modes = (
            Mode("vise", frozenset({0}), "-z", "x", need=6.0, below=2.0, raw=frozenset(rng.choice(((), ("+x",))))),
            Mode("turned", frozenset({1}), "+z", "y", need=6.0, ends=rng.choice((None, "x"))),
            Mode("grip", frozenset({0}), "-z", "x", grip=True, need=-1.0),
            Mode("fixture 0", frozenset({0}), fixture=True),
            Mode("fixture 1", frozenset({1}), fixture=True),
        )
        problem = SetupProblem(("+z", "-z"), tuple(units), modes, frozenset({"-x", "+x", "-y", "+z"}))
        first, second = [(units[0], 0)], [(units[1], 1)]
        for m1 in (m for m in modes if 0 in m.directions):
            for m2 in (m for m in modes if 1 in m.directions):
                both = allows(problem, m1, 0, first, []) and allows(problem, m2, 1, second, first)
                slots = (Slot(0, m1, False, ("a",)), Slot(1, m2, False, ("b",)))
                assert both == accepted(problem, slots), f"{m1} {m2} {units}"
                seen.add((both, m1.id, m2.id))
    assert len({s[0] for s in seen}) == 2


def _unit(rng, name):
    d = "ab".index(name)
    rest = ("-z", "+z")[d]
    opens = {
        (rest, side): rng.choice((3.0, 5.0, 9.0))
        for side in rng.sample(["-x", "+x", "-y", "+y"], rng.choice((0, 1, 2)))
    }
    cuts = frozenset(rng.sample(["-x", "+x", "-y", "+y", "-z"], rng.choice((0, 0, 1, 2))))
    return Unit(name, (d,), opens={d: opens}, cuts={d: cuts})


def accepted(problem, slots):
    v = _model(problem, (*RULES, anywhere), len(slots))
    for k, slot in enumerate(slots):
        v.model.add(v.direction[k, slot.direction] == 1)
        v.model.add(v.mode[k, problem.modes.index(slot.mode)] == 1)
        for name in slot.units:
            v.model.add(v.cut[name, k, slot.direction] == 1)
    return Budget(10.0).run(v, 10.0)[1] in (2, 4)


def test_a_fixture_meets_no_jaws():
    unit = Unit("a", (0,), opens={0: {("-z", "-x"): -5.0}})
    assert clash(Mode("fixture", frozenset({0}), fixture=True), unit, 0) == "no"
    assert clash(Mode("vise", frozenset({0}), "-z", "x", need=6.0), unit, 0) == "yes"


def test_both_ends_are_not_cut_in_one_clamping_from_two_setups_either():
    """Ends +x and -x are cut from two sides of one tilting vise; jaws too wide for both at once: a clamping for each."""
    units = (
        Unit("right", (0,), cuts={0: frozenset({"+x"})}),
        Unit("left", (1,), cuts={1: frozenset({"-x"})}),
    )

    def clampings(ends):
        mode = Mode("tilting table", frozenset({0, 1}), "-z", "y", ends=ends)
        problem = SetupProblem(("+x", "-x"), units, (mode,), frozenset(SIDES), several_setups_a_clamping=True)
        return solve(problem).clampings

    assert (clampings(None), clampings("x")) == (1, 2)
