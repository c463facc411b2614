"""Good plans broken on purpose, cut in simulation again: each way is found by simulation or checker.

Each row says what is done to the plan and which faults must come of it; what is right is common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from planner import plan
from planner.checker import check
from planner.proof.prove import prove
from recognizer import recognize

PART = Path(__file__).resolve().parents[2] / "models" / "cable_block.step"
FINE = 0.4


@pytest.fixture(scope="module")
def features():
    return recognize(PART)


@pytest.fixture(scope="module")
def good(features):
    return plan(features, {"simulate": False, "reach": False})


def operations(p):
    return [op for s in p.setups for op in s.operations]


def find(p, test):
    return next(op for op in operations(p) if test(op))


def named(p, name):
    return find(p, lambda op: op.name == name and op.features)


def rough(p):
    return find(p, lambda op: op.name.startswith("rough") and "pocket" in op.name)


def drill(p):
    return find(p, lambda op: op.kind in ("drilling", "multistep_drilling"))


def walls(p):
    return named(p, "finish walls")


def face(p):
    return named(p, "face")


def outside(p):
    return named(p, "finish outside")


def edges(p):
    return find(p, lambda op: op.edges and not op.features)


def setup_of(p, op):
    return next(s for s in p.setups if op in s.operations)


def retool(p, op, **changes):
    op.tool = op.tool.model_copy(update={"id": op.tool.id + "-changed", **changes})
    p.tools.append(op.tool)


def leave_out(p, op):
    setup_of(p, op).operations.remove(op)


def first(p, op):
    s = setup_of(p, op)
    s.operations.remove(op)
    s.operations.insert(0, op)
    op.after = []


def twice(p, op):
    s = setup_of(p, op)
    again = op.model_copy(deep=True, update={"id": op.id + "-again"})
    s.operations.insert(s.operations.index(op) + 1, again)


def several(p):
    return find(p, lambda op: op.passes.radial_count > 1 and op.tool.kind == "endmill" and op.features)


WAYS = {}


def way(*codes):
    def keep(f):
        WAYS[f.__name__] = (f, set(codes))
        return f

    return keep


@way("gouge", "gouged")
def floor_too_deep(p):
    named(p, "finish floor").levels.bottom -= 0.3


@way("left_uncut", "bottom_not_reached")
def floor_too_shallow(p):
    floor = named(p, "finish floor")
    bottom = floor.levels.bottom + 0.3
    for op in operations(p):
        if op.features == floor.features:
            op.levels.bottom = max(op.levels.bottom, bottom)


@way("floor_not_reached")
def floor_left_to_the_wall_finish(p):
    named(p, "finish floor").levels.bottom += 0.2


@way("left_uncut", "bottom_not_reached")
def hole_not_through(p):
    drill(p).levels.bottom += 3.0
    drill(p).levels.break_through = 0.0


@way("gouged", "drill_diameter")
def drill_too_large(p):
    retool(p, drill(p), DC=drill(p).tool.DC + 1.0)


@way("left_uncut", "drill_diameter")
def drill_too_small(p):
    retool(p, drill(p), DC=drill(p).tool.DC - 1.0)


@way("left_uncut", "cutter_too_large")
def finishing_cutter_too_large(p):
    op = walls(p)
    retool(p, op, DC=2.0 * op.tool.DC)


@way("no_room", "cutter_too_large")
def roughing_cutter_too_large(p):
    retool(p, rough(p), DC=3.0 * rough(p).tool.DC)


@way("stepover_too_wide")
def cutter_too_small_for_its_steps(p):
    retool(p, several(p), DC=0.4 * several(p).passes.radial_depth)


@way("stepover_too_wide")
def stepover_wider_than_the_cutter(p):
    several(p).passes.radial_depth = 1.6 * several(p).tool.DC


@way("stepover_too_wide")
def face_in_one_pass_wider_than_the_cutter(p):
    face(p).passes.radial_depth = 1.5 * face(p).tool.DC


@way("cut_too_deep")
def one_level_deeper_than_the_flutes(p):
    op = find(p, lambda op: op.tool.kind == "endmill" and op.levels.top - op.levels.bottom > (op.tool.APMX or 1e9))
    op.passes.axial_depth, op.passes.axial_count = op.levels.top - op.levels.bottom, 1


@way("left_uncut", "feature_missing")
def setup_left_out(p):
    p.setups.pop()


@way("held_face_cut", "raw_side_gone")
def setups_in_reverse(p):
    p.setups.reverse()


@way("left_uncut", "not_reachable")
def setup_from_the_wrong_side(p):
    p.setups[-1].direction = tuple(-x for x in p.setups[-1].direction)


@way("not_reachable", "work_plane_not_square")
def setup_turned(p):
    x, y, z = p.setups[-1].direction
    p.setups[-1].direction = (y, z, x)


@way("holder_collision", "cutter_too_short")
def cutter_too_short(p):
    retool(p, walls(p), LU=2.0, holder=((40.0, 40.0),))


@way("cutter_too_slender")
def cutter_far_too_long(p):
    retool(p, walls(p), LU=600.0)


@way("holder_collision")
def holder_too_fat(p):
    op = walls(p)
    retool(p, op, LU=max(3.0, op.levels.top - op.levels.bottom - 2.0), holder=((120.0, 60.0),))


@way("holder_collision", "cutter_too_short")
def drill_too_short(p):
    retool(p, drill(p), LU=2.0, holder=((40.0, 40.0),))


@way("plunge")
def end_mill_plunges(p):
    rough(p).entry = "plunge_toolaxis"


@way("plunge")
def face_mill_goes_down_a_ramp(p):
    retool(p, find(p, lambda op: op.entry.startswith("plunge_") and op.tool.kind == "endmill"), kind="facemill")


@way("entry_through_wall")
def into_a_closed_pocket_from_outside(p):
    find(p, lambda op: "closed pocket" in op.name).entry = "from outside at an open side"


@way("jaws_collision", "grip_too_high")
def jaws_too_high(p):
    for clamping in p.clampings:
        clamping.grip_height = (clamping.grip_height or 0.0) + 30.0


@way("jaws_collision", "held_side_cut")
def jaws_on_sides_that_are_cut(p):
    setup = setup_of(p, outside(p))
    clamping = next(c for c in p.clampings if c.id == setup.clamping)
    clamping.clamp_sides = ["-x", "+x"] if clamping.clamp_sides == ["-y", "+y"] else ["-y", "+y"]


@way("held_side_cut", "rest_not_across")
def rests_on_the_side_that_is_cut(p):
    clamping = next(c for c in p.clampings if c.id == p.setups[-1].clamping)
    clamping.rest_side = {"-": "+", "+": "-"}[clamping.rest_side[0]] + clamping.rest_side[1]


@way("unknown_clamping")
def held_in_nothing(p):
    p.setups[0].clamping = "c99"


@way("rapid_collision", "clearance_too_low")
def clearance_inside_the_block(p):
    p.setups[0].clearance = max(op.levels.top for op in p.setups[0].operations) - 5.0


@way("rapid_collision", "clearance_too_low")
def clearance_on_the_surface(p):
    p.setups[0].clearance = max(op.levels.top for op in p.setups[0].operations)


@way("gouged", "left_uncut", "rough_after_finish")
def features_exchanged(p):
    a = walls(p)
    b = find(p, lambda op: op.name == a.name and op.features != a.features)
    a.features, b.features = b.features, a.features
    a.feature, b.feature = b.feature, a.feature


@way("left_uncut")
def finish_leaves_an_allowance(p):
    walls(p).passes.allowance_side = 0.3


@way("gouged")
def roughing_with_less_than_no_allowance(p):
    rough(p).passes.allowance_side = -0.4


@way("rapid_collision")
def drill_sent_below_the_surface(p):
    drill(p).levels.top -= 6.0


@way("entry_collision", "starts_in_material")
def roughing_starts_at_the_bottom(p):
    rough(p).levels.top = rough(p).levels.bottom + 0.5


@way("break_through_too_far")
def far_past_the_far_side(p):
    find(p, lambda op: op.levels.break_through > 0.0).levels.break_through = 15.0


@way("no_break_through")
def not_past_the_far_side(p):
    for op in operations(p):
        op.levels.break_through = 0.0 if op.tool.kind == "twist_drill" else op.levels.break_through


@way("cusps_left")
def ball_on_a_flat_floor(p):
    op = named(p, "finish floor")
    retool(p, op, kind="ball_endmill", RE=op.tool.DC / 2.0)


@way("left_uncut", "edge_radius_too_large")
def rounded_cutter_at_a_sharp_foot(p):
    retool(p, walls(p), kind="bullnose_endmill", RE=2.0)


@way("edge_break_too_large")
def edges_chamfered_instead_of_broken(p):
    passes = edges(p).passes
    passes.axial_depth = passes.radial_depth = 3.0


@way("stock_size", "simulation_sum")
def stock_smaller_than_the_part(p):
    p.job.stock.allowance = [-1.0] * 6


@way("stock_size")
def stock_of_another_size(p):
    p.job.stock.size = tuple(x - 10.0 for x in p.job.stock.size)


@way("not_reachable", "after_violated")
def finish_in_another_setup(p):
    op = walls(p)
    other = next(s for s in p.setups if op not in s.operations)
    leave_out(p, op)
    other.operations.append(op)


@way("gouged", "left_uncut")
def levels_exchanged(p):
    a = walls(p)
    b = find(p, lambda op: op.name == a.name and op.levels != a.levels)
    a.levels, b.levels = b.levels, a.levels


@way("gouged", "gouge")
def face_too_deep(p):
    face(p).levels.bottom -= 1.0


@way("left_uncut", "stepover_too_wide")
def face_with_a_narrow_cutter(p):
    retool(p, face(p), DC=10.0)


@way("break_through_too_far")
def outside_down_into_the_vise(p):
    outside(p).levels.bottom -= 30.0


@way("above_machine")
def feed_of_a_rapid(p):
    drill(p).feed *= 40.0


@way("cuts_air", "clearance_too_low")
def roughing_begins_far_over_the_block(p):
    op = rough(p)
    count = op.passes.axial_count
    op.levels.top += 200.0
    op.passes.axial_count += round(200.0 / op.passes.axial_depth)
    op.path_length *= op.passes.axial_count / count


WHOLE = (
    ("finish_left_out", leave_out, walls, {"left_uncut", "face_not_finished"}),
    ("roughing_left_out", leave_out, rough, {"entry_collision", "starts_in_material"}),
    ("drill_left_out", leave_out, drill, {"left_uncut", "face_not_finished"}),
    ("face_left_out", leave_out, face, {"left_uncut", "rapid_collision", "raw_layer_left"}),
    ("outside_left_out", leave_out, outside, {"left_uncut", "face_not_finished"}),
    ("edges_left_out", leave_out, edges, {"edge_missing"}),
    ("finish_before_rough", first, walls, {"entry_collision", "rough_after_finish"}),
    ("drill_before_the_face", first, drill, {"rapid_collision", "hole_order"}),
    ("finish_done_twice", twice, walls, {"done_twice", "removes_nothing"}),
    ("roughing_done_twice", twice, rough, {"done_twice", "removes_nothing"}),
    ("hole_drilled_twice", twice, drill, {"done_twice", "removes_nothing"}),
)
"""Whole operations left out, done first or done twice: name, what is done, to which one, faults."""
for _name, _do, _which, _codes in WHOLE:
    WAYS[_name] = (lambda p, do=_do, which=_which: do(p, which(p)), _codes)


def test_the_good_plan_has_no_fault(good, features):
    document = type(good).from_json(good.to_json())
    prove(document, features, features.shape, FINE)
    assert check(document, features) == []
    assert not {f.code for f in document.findings} & {"removes_nothing", "cuts_air"}


def test_there_are_more_than_fifty_ways():
    assert len(WAYS) > 50


@pytest.mark.parametrize("name", WAYS)
def test_it_is_found(name, good, features):
    change, codes = WAYS[name]
    document = type(good).from_json(good.to_json())
    change(document)
    prove(document, features, features.shape, FINE)
    found = {f.code for f in check(document, features)} | {f.code for f in document.findings}
    assert codes <= found, f"{name}: expected {codes}, found {found}"
