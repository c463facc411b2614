"""A good plan has no violation, and every way of spoiling it is found. Each mutation breaks one thing that matters.

Expected codes come from the wording of the mutation itself; what is right is design.md sections 2 and 3 and, for the
hole stages and fits, common practice (no source).
"""

from __future__ import annotations

import pytest

from planner import plan
from planner.checker import check
from shared.plan import Unplanned
from tests.setups.parts import bracket

DOCUMENT = bracket().document()
GOOD = plan(DOCUMENT)
JSON = GOOD.to_json()


def fresh():
    return type(GOOD).from_json(JSON)


def ops(p):
    return [op for s in p.setups for op in s.operations]


def find(p, word, feature=None):
    return next(op for op in ops(p) if word in op.name and (feature is None or feature in op.features))


def setup_of(p, op):
    return next(s for s in p.setups if op in s.operations)


def to_front(p, op):
    s = setup_of(p, op)
    s.operations.remove(op)
    s.operations.insert(0, op)


def to_end(p, op):
    s = setup_of(p, op)
    s.operations.remove(op)
    s.operations.append(op)


def retool(p, op, **changes):
    op.tool = op.tool.model_copy(update={"id": op.tool.id + "-changed", **changes})
    p.tools.append(op.tool)


MUTATIONS = {}


def mutation(*codes):
    def keep(f):
        MUTATIONS[f.__name__] = (f, set(codes))
        return f

    return keep


@mutation("after_violated", "parent_after_child", "facing_not_first")
def drill_before_facing(p):
    to_front(p, find(p, "drill", "f8"))


@mutation("facing_not_first")
def facing_last_in_setup(p):
    to_end(p, find(p, "face", "f5"))


@mutation("after_violated")
def waits_for_itself(p):
    find(p, "drill", "f8").after.append(find(p, "drill", "f8").id)


@mutation("after_unknown")
def waits_for_nobody(p):
    find(p, "drill", "f8").after.append("s9-o9")


@mutation("parent_after_child")
def child_before_parent_without_after(p):
    op = find(p, "spot", "f8")
    op.after = []
    s = setup_of(p, op)
    s.operations.remove(op)
    s.operations.insert(1, op)


@mutation("rough_after_finish")
def finish_before_rough(p):
    op = find(p, "finish floor", "f7")
    op.after = []
    s = setup_of(p, op)
    s.operations.remove(op)
    s.operations.insert(1, op)


@mutation("hole_order")
def drill_before_spot(p):
    op = find(p, "spot", "f8")
    op.after, find(p, "drill", "f8").after = [], []
    to_end(p, op)


@mutation("edges_not_last")
def edges_before_drilling(p):
    op = find(p, "break edges")
    op.after = []
    s = setup_of(p, op)
    s.operations.remove(op)
    s.operations.insert(1, op)


@mutation("edge_too_early")
def edge_broken_before_its_face_is_cut(p):
    op = next(op for op in ops(p) if 0 in op.edges)
    setup_of(p, op).operations.remove(op)
    op.edges, op.after = [0], []
    p.setups[0].operations.append(op)


@mutation("not_reachable")
def pocket_from_the_side(p):
    op = find(p, "rough", "f7")
    setup_of(p, op).operations.remove(op)
    op.after = []
    p.setups[1].operations.append(op)


@mutation("not_reachable")
def setup_turned_over(p):
    p.setups[0].direction = (0.0, 0.0, -1.0)


@mutation("not_unit")
def direction_too_long(p):
    p.setups[0].direction = (0.0, 0.0, 2.0)


@mutation("work_plane_not_square")
def x_axis_along_the_tool(p):
    p.setups[0].x_axis = p.setups[0].direction


@mutation("clearance_too_low")
def clearance_inside_the_stock(p):
    p.setups[0].clearance = 15.0


@mutation("origin_below_top")
def origin_at_the_bottom(p):
    x, y, _ = p.setups[0].origin
    p.setups[0].origin = (x, y, 0.0)


@mutation("bottom_not_reached")
def pocket_too_shallow(p):
    for op in ops(p):
        if "f7" in op.features:
            op.levels.bottom += 1.0


@mutation("bottom_not_reached")
def blind_hole_too_shallow(p):
    find(p, "drill", "f14").levels.bottom += 2.0


@mutation("gouge")
def blind_hole_too_deep(p):
    find(p, "drill", "f14").levels.bottom -= 1.0


@mutation("gouge")
def pocket_floor_gouged(p):
    find(p, "finish floor", "f7").levels.bottom -= 0.5


@mutation("gouge")
def pocket_gouged_by_break_through(p):
    find(p, "finish floor", "f7").levels.break_through = 1.0


@mutation("no_break_through")
def through_hole_not_broken_through(p):
    op = find(p, "drill", "f12")
    op.levels.break_through = 0.0


@mutation("break_through_too_far")
def through_hole_into_the_table(p):
    find(p, "drill", "f12").levels.break_through = 30.0


@mutation("levels_upside_down")
def top_below_bottom(p):
    levels = find(p, "drill", "f8").levels
    levels.top, levels.bottom = levels.bottom, levels.top


@mutation("starts_in_material")
def rapid_into_the_pocket(p):
    find(p, "rough", "f7").levels.top -= 5.0


@mutation("cutter_too_large")
def cutter_wider_than_the_pocket(p):
    retool(p, find(p, "rough", "f7"), DC=50.0)


@mutation("cutter_too_large_for_corner")
def finishing_cutter_too_large_for_the_corners(p):
    retool(p, find(p, "finish walls", "f7"), DC=16.0)


@mutation("edge_radius_too_large")
def bullnose_on_a_sharp_floor(p):
    for op in ops(p):
        if op.name.startswith("finish") and "f7" in op.features:
            retool(p, op, RE=1.0)


@mutation("drill_diameter")
def wrong_drill(p):
    retool(p, find(p, "drill", "f8"), DC=4.5)


@mutation("drill_too_large")
def drill_too_large(p):
    retool(p, find(p, "drill", "f8"), DC=6.5)


@mutation("wrong_tool")
def drilling_with_an_end_mill(p):
    retool(p, find(p, "drill", "f8"), kind="endmill")


@mutation("wrong_tool")
def milling_with_a_drill(p):
    retool(p, find(p, "rough", "f7"), kind="twist_drill")


@mutation("cutter_too_short")
def drill_too_short(p):
    retool(p, find(p, "drill", "f12"), LU=10.0)


@mutation("cutter_too_short")
def end_mill_too_short(p):
    retool(p, find(p, "finish walls", "f7"), LU=5.0)


@mutation("cut_too_deep")
def one_level_deeper_than_the_cutting_edge(p):
    retool(p, find(p, "rough", "f7"), APMX=0.5)


@mutation("passes_do_not_cover")
def one_level_too_few(p):
    find(p, "rough", "f7").passes.axial_count = 1
    find(p, "rough", "f7").passes.axial_depth = 2.0


@mutation("passes_empty")
def no_passes(p):
    find(p, "rough", "f7").passes.axial_count = 0


@mutation("plunge")
def end_mill_plunges(p):
    find(p, "rough", "f7").entry = "plunge_toolaxis"


@mutation("entry_through_wall")
def closed_pocket_entered_from_outside(p):
    find(p, "rough", "f7").entry = "from outside at an open side"


@mutation("no_entry")
def entry_not_said(p):
    find(p, "rough", "f7").entry = " "


@mutation("held_face_cut")
def clamped_on_a_face_that_is_cut(p):
    p.clampings[0].clamp_faces = [4]


@mutation("held_face_cut")
def rests_on_a_face_that_is_not_there_yet(p):
    p.clampings[0].rest_faces = [5]


@mutation("raw_side_gone")
def rests_on_a_raw_side_already_cut(p):
    p.clampings[-1].rest_on = "raw side +z"


def finished_before(p, setup, square):
    """Stock sides' faces cut before a setup whose normals are square (or not) to its direction."""
    normals = {f.faces[0]: f.views[0].direction for f in DOCUMENT.features if f.kind == "planar_face"}
    done = [f for s in p.setups[: p.setups.index(setup)] for op in s.operations if op.name == "face" for f in op.faces]
    across = {f: abs(sum(a * b for a, b in zip(normals[f], setup.direction, strict=True))) for f in done}
    return [f for f in done if (across[f] < 0.1) is square]


def clamping(p, setup):
    return next(c for c in p.clampings if c.id == setup.clamping)


@mutation("rest_not_across")
def rests_on_the_side_beside(p):
    clamping(p, p.setups[-1]).rest_faces = finished_before(p, p.setups[-1], square=True)[:1]


@mutation("clamp_not_upright")
def clamped_on_the_side_it_rests_on(p):
    setup = next(s for s in p.setups if finished_before(p, s, square=False))
    clamping(p, setup).clamp_faces = finished_before(p, setup, square=False)[:1]


@mutation("clamp_not_parallel")
def clamped_on_two_neighbours(p):
    clamping(p, p.setups[-1]).clamp_faces = [
        next(f for f in finished_before(p, p.setups[-1], square=True)),
        finished_before(p, p.setups[-1], square=False)[0],
    ]


@mutation("unknown_clamping")
def held_nowhere(p):
    p.setups[0].clamping = "c99"


@mutation("empty_clamping", "too_many_setups")
def two_setups_in_one_three_axis_clamping(p):
    p.setups[1].clamping = p.setups[0].clamping


@mutation("feature_missing")
def feature_forgotten(p):
    for s in p.setups:
        s.operations = [op for op in s.operations if "f14" not in op.features]


@mutation("feature_missing")
def one_hole_of_the_group_forgotten(p):
    for op in ops(p):
        if "f9" in op.features:
            op.features.remove("f9")


@mutation("feature_twice")
def cut_and_unplanned(p):
    p.unplanned.append(Unplanned(feature="f7", reason="no cutter"))


@mutation("unknown_feature")
def feature_that_does_not_exist(p):
    find(p, "drill", "f8").features.append("f99")


@mutation("face_not_finished")
def walls_never_finished(p):
    find(p, "finish walls", "f7").faces = []


@mutation("unknown_face")
def face_that_does_not_exist(p):
    find(p, "finish walls", "f7").faces.append(999)


@mutation("edge_missing")
def edge_forgotten(p):
    next(op for op in ops(p) if op.edges).edges = []


@mutation("edge_not_reachable")
def edge_broken_from_the_far_side(p):
    op = next(op for op in ops(p) if 0 in op.edges)
    setup_of(p, op).operations.remove(op)
    p.setups[-1].operations.append(op)


def pocket_clamping(p):
    """The clamping in which the pocket f7 is cut, from +z."""
    return clamping(p, setup_of(p, find(p, "rough", "f7")))


@mutation("jaw_collision")
def jaws_higher_than_the_face_that_is_cut(p):
    """22 mm of stock on the part's own 20 mm: jaws of 30 mm stand in the face mill's way."""
    pocket_clamping(p).grip_height = 30.0


@mutation("jaw_collision")
def a_cut_goes_down_beside_the_jaws(p):
    find(p, "face", "f5").levels.bottom = 5.0


@mutation("held_side_cut")
def rests_on_what_it_faces(p):
    pocket_clamping(p).rest_side = "+z"


@mutation("held_side_cut")
def clamped_on_the_side_that_is_faced(p):
    clamping(p, setup_of(p, find(p, "face", "f4"))).clamp_sides = ["-y", "+y"]


@mutation("rest_not_across")
def rests_beside(p):
    pocket_clamping(p).rest_side = "-x"


@mutation("clamps_rest")
def clamped_on_top_and_bottom(p):
    pocket_clamping(p).clamp_sides = ["-z", "+z"]


@mutation("clamps_no_pair")
def clamped_on_one_side(p):
    pocket_clamping(p).clamp_sides = ["-y"]


@mutation("clamps_no_pair")
def clamped_round_a_corner(p):
    pocket_clamping(p).clamp_sides = ["-y", "+x"]


@mutation("holding_not_said")
def a_vise_without_its_height(p):
    pocket_clamping(p).grip_height = None


@mutation("grip_too_low")
def a_grip_of_two_millimetres(p):
    pocket_clamping(p).grip_height = 2.0


@mutation("grip_too_high")
def jaws_higher_than_the_shop_has(p):
    clamping(p, p.setups[-1]).grip_height = 60.0


@mutation("contact_too_small")
def next_to_no_contact(p):
    pocket_clamping(p).contact_area = 10.0


@mutation("contact_too_large")
def more_contact_than_the_faces_have(p):
    clamping(p, p.setups[-1]).contact_area = 9000.0


@mutation("contact_not_said")
def contact_left_out(p):
    pocket_clamping(p).contact_area = None


@mutation("wrong_opening")
def opening_of_the_finished_part_on_raw_sides(p):
    pocket_clamping(p).opening = 60.0


@mutation("opening_too_wide")
def a_smaller_vise(p):
    p.job.vise.opening = 50.0


@mutation("jaws_too_wide")
def both_ends_cut_beside_wide_jaws(p):
    """The ends -x and +x of 100 mm are cut where the pocket is: 150 mm jaws would be in the way."""
    for name in ("f1", "f2"):
        op = find(p, "face", name)
        setup_of(p, op).operations.remove(op)
        setup_of(p, find(p, "rough", "f7")).operations.append(op)
    pocket_clamping(p).jaw_width = 150.0


@mutation("caution_missing")
def a_caution_is_missing(p):
    p.cautions.pop()


@mutation("no_reason")
def operation_without_a_reason(p):
    find(p, "drill", "f8").because = []


@mutation("duplicate_id")
def id_used_twice(p):
    ops(p)[1].id = ops(p)[0].id


@mutation("feature_mismatch")
def feature_field_wrong(p):
    find(p, "drill", "f8").feature = "f9"


@mutation("unknown_tool")
def tool_not_listed(p):
    p.tools = [t for t in p.tools if t.id != find(p, "drill", "f8").tool.id]


@mutation("minutes_sum")
def setup_minutes_wrong(p):
    p.setups[0].minutes += 0.5


@mutation("minutes_sum")
def total_minutes_wrong(p):
    p.totals.minutes -= 0.5


@mutation("minutes_too_short")
def operation_faster_than_its_feed(p):
    op = find(p, "rough", "f7")
    op.path_length *= 10


@mutation("no_data")
def no_feed(p):
    find(p, "drill", "f8").feed = 0.0


@mutation("above_machine")
def spindle_too_fast(p):
    find(p, "drill", "f8").speed = 99_000.0


@mutation("above_machine")
def too_much_power(p):
    find(p, "rough", "f7").power = 50.0


@mutation("wrong_total")
def tool_changes_miscounted(p):
    p.totals.tool_changes += 1


@mutation("wrong_total")
def setups_miscounted(p):
    p.totals.setups -= 1


@mutation("proof_count")
def proof_counts_other_setups(p):
    p.proof.setups.count = p.proof.setups.lower_bound = 5


@mutation("not_proven")
def optimal_without_proof(p):
    p.proof.setups.lower_bound = 3


@mutation("bound_above_count")
def bound_too_high(p):
    p.proof.setups.lower_bound = 9


@mutation("proof_count")
def proof_counts_other_clampings(p):
    p.proof.clampings.count = 5


@mutation("not_proven")
def clampings_optimal_without_proof(p):
    p.proof.clampings.lower_bound = 3


@mutation("stepover_too_wide")
def passes_further_apart_than_the_cutter_is_wide(p):
    op = find(p, "rough", "f7")
    op.passes.radial_count, op.passes.radial_depth = 3, 1.5 * op.tool.DC


@mutation("stepover_too_wide")
def one_pass_wider_than_the_face_mill(p):
    op = find(p, "face", "f5")
    op.passes.radial_count, op.passes.radial_depth = 1, 1.5 * op.tool.DC
    retool(p, op, kind="facemill")


@mutation("cusps_left")
def ball_on_a_floor(p):
    op = find(p, "finish floor", "f7")
    op.passes.radial_count, op.passes.radial_depth = 4, 0.6 * op.tool.DC
    retool(p, op, kind="ball_endmill", RE=op.tool.DC / 2.0)


@mutation("cutter_too_slender")
def mill_of_thirty_diameters(p):
    op = find(p, "rough", "f7")
    retool(p, op, LU=30.0 * op.tool.DC)


@mutation("edge_break_too_large")
def edges_broken_by_three_mm(p):
    find(p, "break edges").passes.axial_depth = 3.0


@mutation("plunge")
def face_mill_down_a_helix(p):
    op = find(p, "rough", "f7")
    op.entry = "plunge_helix, 5 degrees"
    retool(p, op, kind="facemill")


@mutation("done_twice")
def roughed_twice(p):
    op = find(p, "rough", "f7")
    s = setup_of(p, op)
    s.operations.insert(s.operations.index(op) + 1, op.model_copy(deep=True, update={"id": "again"}))


@mutation("stock_size")
def stock_shorter_than_said(p):
    x, y, z = p.job.stock.size
    p.job.stock.size = (x - 3.0, y, z)


@mutation("break_through_too_far")
def mill_far_past_the_far_side(p):
    find(p, "drill", "f12").levels.break_through = 14.0


@mutation("empty_setup")
def setup_that_cuts_nothing(p):
    p.setups[-1].operations = []


def test_the_good_plan_has_no_violation():
    assert check(GOOD, DOCUMENT) == [] == GOOD.proof.checker


def test_there_are_at_least_fifty_mutations():
    assert len(MUTATIONS) >= 50


@pytest.mark.parametrize("name", MUTATIONS)
def test_mutation_is_caught(name):
    mutate, codes = MUTATIONS[name]
    spoiled = fresh()
    mutate(spoiled)
    found = {f.code for f in check(spoiled, DOCUMENT)}
    assert codes <= found, f"{name}: expected {codes}, found {found}"
