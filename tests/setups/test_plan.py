"""The whole plan on hand-built documents: setups, operations, holding, edges, what is left out, figures.

Source of truth: the documents' own figures and design.md sections 2 and 3; each test says its arithmetic.
"""

from __future__ import annotations

import pytest

from planner import plan
from shared.errors import UsageError
from shared.features import Feature, FeaturesDocument, View
from shared.plan import CAUTIONS, Job
from tests.setups.parts import Block, bracket, opposite, unit

ALL = ("+x", "-x", "+y", "-y", "+z", "-z")


def operations(result):
    return [op for s in result.setups for op in s.operations]


def of(result, feature):
    return [op for op in operations(result) if feature in op.features]


def directions(result):
    return [s.direction for s in result.setups]


def codes(result):
    return [f.code for f in result.findings]


def test_every_plan_carries_all_cautions_and_no_violation():
    for axes in (3, 4, 5):
        result = plan(bracket().document(), {"axes": axes})
        assert result.cautions == CAUTIONS
        assert result.proof.checker == []


def test_the_same_input_gives_the_same_bytes():
    assert plan(bracket().document()).to_json() == plan(bracket().document()).to_json()


def test_a_document_may_come_as_a_mapping_and_a_job_as_nothing():
    document = bracket().document()
    assert plan(document.model_dump()).to_json() == plan(document, Job()).to_json()


@pytest.mark.parametrize("job", [{"axes": 6}, {"stok": 2}, {"stock": "block.step"}, {"material": "unobtainium"}])
def test_a_job_that_cannot_be_is_a_usage_error(job):
    with pytest.raises(UsageError):
        plan(bracket().document(), job)


def test_a_document_that_cannot_be_is_a_usage_error():
    with pytest.raises(UsageError, match="part"):
        plan({"features": []})


def test_a_bare_block_needs_six_setups_and_six_facings():
    result = plan(Block().document())
    assert result.totals.setups == 6 and [op.name for op in operations(result)] == ["face"] * 6
    assert result.proof.setups.status == "optimal" and result.proof.setups.lower_bound == 6
    for setup in result.setups:
        op = setup.operations[0]
        assert op.levels.top - op.levels.bottom == pytest.approx(2.0)


def test_zero_allowance_leaves_nothing_to_face_and_says_so():
    result = plan(Block().document(), {"stock": 0})
    assert result.setups == [] and len(result.unplanned) == 6
    assert all("no allowance" in u.reason for u in result.unplanned)


def test_only_sides_with_allowance_are_faced():
    result = plan(Block().document(), {"stock": [0, 0, 0, 0, 0, 3]})
    assert directions(result) == [(0.0, 0.0, 1.0)]
    assert operations(result)[0].levels.top == 23.0 and operations(result)[0].levels.bottom == 20.0


def test_walls_that_may_be_milled_from_above_save_four_setups():
    """Own directions: 6 setups. With profile views from +z and -z: top with two walls, then bottom with the others."""
    block = Block(sides=())
    for side in ALL:
        block.planar_face(side, mill_from=("+z", "-z") if side[1] != "z" else ())
    result = plan(block.document())
    assert result.totals.setups == 2 and result.proof.checker == []


def test_a_through_hole_goes_to_the_setup_that_is_there_anyway():
    """Faces only on +z to cut; the hole is open to both sides: one setup, not two."""
    block = Block()
    hole = block.hole("-z", (20, 20), 8.0)
    result = plan(block.document(), {"stock": [0, 0, 0, 0, 0, 2]})
    assert result.totals.setups == 1 and of(result, hole)


def test_order_forces_a_direction_to_be_visited_twice():
    """Pocket from +z, a hole from -y that opens on it, and a hole from +z that opens on the cross hole."""
    block = Block()
    pocket = block.pocket("+z", (20, 10), (80, 50), 5)
    cross = block.hole("-y", (50, 10), 6.0, depth=30, inside=[pocket])
    last = block.hole("+z", (50, 20), 4.2, depth=8, inside=[cross])
    result = plan(block.document(), {"stock": 0})
    assert directions(result) == [unit("+z"), unit("-y"), unit("+z")]
    text = " ".join(result.proof.setups.witness)
    assert all(name in text for name in (pocket, cross, last)) and "order:" in text


def test_parents_come_before_what_opens_on_them():
    block = bracket()
    result = plan(block.document())
    place = {op.id: i for i, op in enumerate(operations(result))}
    pocket = max(place[op.id] for op in of(result, "f7"))
    assert all(place[op.id] > pocket for name in ("f8", "f9", "f10", "f11") for op in of(result, name))
    for op in operations(result):
        assert all(place[a] < place[op.id] for a in op.after)


def test_equal_holes_share_an_operation_and_their_time_adds_up():
    result = plan(bracket().document())
    drill = next(op for op in operations(result) if op.name == "drill" and "f8" in op.features)
    assert drill.features == ["f8", "f9", "f10", "f11"] and drill.feature == "f8"
    single = Block()
    pocket = single.pocket("+z", (20, 10), (80, 50), 10, inside=[single.side_faces["+z"]])
    hole = single.hole("+z", (30, 20), 5.0, depth=10, inside=[pocket], top=10.0, directions=["+z"])
    one = next(op for op in of(plan(single.document()), hole) if op.name == "drill")
    assert drill.rapid_length > 0 == one.rapid_length
    assert drill.minutes == pytest.approx(4 * one.minutes + drill.rapid_length / 20000)  # the ways from hole to hole
    assert drill.path_length == pytest.approx(4 * one.path_length)


def test_unreachable_and_enclosed_features_are_said_with_a_reason():
    block = Block()
    hidden, void = block.unreachable(), block.void()
    result = plan(block.document())
    reasons = {u.feature: u.reason for u in result.unplanned}
    assert "face 0 is in the way" in reasons[hidden] and "closed on all sides" in reasons[void]


def test_a_hole_that_no_cutter_makes_is_said_with_a_reason():
    block = Block((100, 60, 400))
    hole = block.hole("+z", (30, 30), 3.0)
    reason = next(u.reason for u in plan(block.document()).unplanned if u.feature == hole)
    assert "400" in reason and "drill" in reason


def test_edges_go_last_and_never_add_a_setup():
    result = plan(bracket().document())
    for setup in result.setups:
        breaks = [i for i, op in enumerate(setup.operations) if op.edges]
        assert len(breaks) <= 1 and all(i == len(setup.operations) - 1 for i in breaks)
    assert sorted(e for op in operations(result) for e in op.edges) == [0, 1]


def test_edges_that_no_setup_sees_are_a_finding():
    """Only -y is faced; the edge is seen from +x alone."""
    block = Block()
    block.edge((0, 2), ["+x"])
    result = plan(block.document(), {"stock": [0, 0, 2, 0, 0, 0]})
    assert result.totals.setups == 1 and "edges_not_broken" in codes(result)


def test_an_edge_waits_until_both_its_faces_are_cut():
    """Edge between +z and -x seen from both; whatever comes first cannot break it."""
    block = Block()
    block.edge(
        (block.feature(block.side_faces["+z"]).faces[0], block.feature(block.side_faces["-x"]).faces[0]), ["+z", "-x"]
    )
    result = plan(block.document(), {"stock": [2, 0, 0, 0, 0, 2]})
    assert [bool(s.operations[-1].edges) for s in result.setups] == [False, True]


def test_work_planes_are_right_handed_with_the_part_in_the_positive_corner():
    """ISO 841: X x Y = Z. With Y = Z x X every corner of the stock has X and Y >= 0 from the origin (arithmetic)."""
    result = plan(bracket().document())
    for setup in result.setups:
        z, x = setup.direction, setup.x_axis
        y = (z[1] * x[2] - z[2] * x[1], z[2] * x[0] - z[0] * x[2], z[0] * x[1] - z[1] * x[0])
        for corner in ((a, b, c) for a in (0, 100) for b in (0, 60) for c in (0, 20)):
            away = [corner[i] - setup.origin[i] for i in range(3)]
            assert sum(p * q for p, q in zip(away, x, strict=True)) >= -1e-9
            assert sum(p * q for p, q in zip(away, y, strict=True)) >= -1e-9


def test_the_clearance_plane_is_ten_above_the_raw_top():
    """Top of the part 20, allowance 2, clearance 10: level 32."""
    top = next(s for s in plan(bracket().document()).setups if s.direction == unit("+z"))
    assert top.clearance == 32.0


def test_x_lies_along_the_jaws():
    """Jaws hold a pair of sides; X is square to that pair (ISO 841: parallel to the clamping face)."""
    result = plan(bracket().document())
    for setup in result.setups:
        text = next(c.clamp_on for c in result.clampings if c.id == setup.clamping)
        pair = next(a for a in "xyz" if f"+{a}" in text)
        assert abs(setup.x_axis["xyz".index(pair)]) < 1e-9


def test_minutes_add_up_with_tool_changes():
    """Setups sum to the total; all operations plus 0.1 min for each tool change (the assumed machine's) give the same."""
    result = plan(bracket().document())
    cut = sum(op.minutes for op in operations(result))
    assert result.totals.minutes == pytest.approx(sum(s.minutes for s in result.setups))
    assert result.totals.minutes == pytest.approx(cut + 0.1 * result.totals.tool_changes)


def test_four_and_five_axes_save_clampings_not_setups():
    three, four, five = (plan(bracket().document(), {"axes": a}).totals for a in (3, 4, 5))
    assert three.setups == four.setups == five.setups == 6
    assert (three.clampings, four.clampings, five.clampings) == (6, 2, 2)


def tilted_hole(block, direction):
    view = View(
        direction=direction, kind="round_hole", reachable=True, reach_share=1.0, top=40.0, bottom=30.0, depth=10.0,
        bottom_condition="conical", length=5.0, width=5.0, region_area=19.6, closed_sides=1,
    )  # fmt: skip
    faces = block.new_faces(2)
    return block.add(Feature(id="tilted", kind="round_hole", faces=faces, walls=faces[:1], bottom=faces[1:], views=[view],
                             dimensions={"diameter": 5.0, "depth": 10.0}, because=["test"]))  # fmt: skip


def test_a_tilted_hole_is_one_clamping_on_five_axes_and_an_angle_plate_on_three():
    block = Block()
    block.pocket("+z", (20, 10), (80, 50), 5)
    tilted_hole(block, (0.6, 0.0, 0.8))
    five = plan(block.document(), {"axes": 5, "stock": 0})
    assert five.totals.setups == 2 and five.totals.clampings == 1 and "tilted_direction" not in codes(five)
    three = plan(block.document(), {"axes": 3, "stock": 0})
    assert three.totals.setups == 2 and three.totals.clampings == 2
    assert {"tilted_direction", "needs_fixture"} <= set(codes(three))
    assert any("angle plate" in c.rest_on for c in three.clampings)


def test_a_raw_side_that_no_feature_owns_is_faced_before_what_is_cut_through_it():
    """No planar face on +z (a free-form top, say), 2 mm of allowance: the layer goes first, in the hole's own setup."""
    block = Block(sides=("-z",))
    hole = block.hole("+z", (20, 20), 8.0, depth=10)
    result = plan(block.document(), {"stock": [0, 0, 0, 0, 0, 2]})
    first = operations(result)[0]
    assert first.name == "face" and first.features == [] and first.levels.top == 22.0
    assert of(result, hole)[0].levels.top == 20.0


def test_threads_of_the_job_are_tapped_last():
    """M10 has a tap drill of 8.5 mm (ISO 2306); the tap comes after the drill."""
    block = Block()
    hole = block.hole("+z", (20, 20), 8.5, directions=["+z"])
    result = plan(block.document(), {"stock": 0, "threads": {"8.5": "M10"}})
    assert [op.kind for op in of(result, hole)][-1] == "tapping"
    assert of(result, hole)[-1].tool.TDZ == "M10" and result.proof.checker == []


def test_parents_that_wait_for_each_other_are_a_finding_not_a_crash():
    block = Block()
    a = block.pocket("+z", (10, 10), (40, 40), 5)
    b = block.pocket("+z", (50, 10), (80, 40), 5, inside=[a])
    block.feature(a).inside.append(b)
    result = plan(block.document(), {"stock": 0})
    assert "order_cycle" in codes(result) and of(result, a) and of(result, b)


def test_a_part_without_features_is_an_empty_plan():
    result = plan(FeaturesDocument.model_validate(Block(sides=()).document().model_dump()))
    assert result.setups == [] and result.totals.minutes == 0 and result.proof.checker == []


@pytest.mark.parametrize("side", ALL)
def test_turning_the_part_over_turns_the_plan_over(side):
    """The same pocket from each side of a cube: always one setup, from there, with the same operations and minutes."""
    block = Block((60, 60, 60))
    block.pocket(side, (10, 10), (50, 40), 8)
    result = plan(block.document(), {"stock": 0})
    reference = Block((60, 60, 60))
    reference.pocket("+z", (10, 10), (50, 40), 8)
    expected = plan(reference.document(), {"stock": 0})
    assert directions(result) == [unit(side)] and opposite(opposite(side)) == side
    assert [op.name for op in operations(result)] == [op.name for op in operations(expected)]
    assert result.totals.minutes == pytest.approx(expected.totals.minutes)


def test_findings_alike_are_said_once_for_all_their_features():
    """Four 5 mm holes have the tap drill of M6 (ISO 2306): one finding that names all four."""
    found = [f for f in plan(bracket().document()).findings if f.code == "may_be_tapped" and "f8" in f.features]
    assert len(found) == 1 and found[0].features == ["f8", "f9", "f10", "f11"]
    assert found[0].message.startswith("f8, f9, f10, f11: 5 mm")


def profile(block, walls):
    """An outside profile of the whole block whose walls on some sides are plane and share an edge with +z."""
    faces = block.new_faces(len(walls))
    views = [
        View(
            direction=unit(d), kind="outside_profile", reachable=True, reach_share=1.0, top=block.level(d),
            bottom=block.level(d) - 20.0, depth=20.0, through=True, bottom_condition="through", closed_sides=1, region_area=0.0,
            length=100.0, width=60.0,
        )
        for d in ("+z", "-z")
    ]  # fmt: skip
    name = block.add(
        Feature(id="profile", kind="outside_profile", faces=faces, walls=faces, views=views, because=["test"])
    )
    for side, face in zip(walls, faces, strict=True):
        level = block.level(side) if side[0] == "+" else 0.0
        ends = [(x, level, 20.0) if side[1] == "y" else (level, x, 20.0) for x in (10.0, 50.0)]
        index = block.edge((face, 0), ["+z"], 40.0)
        block.edges[index] = block.edges[index].model_copy(update={"start": ends[0], "end": ends[1]})
    return name


def test_flat_walls_of_a_finished_profile_can_be_clamped():
    """2 mm all round: whoever cuts the profile has no pair left (a fixture), the other setup clamps its flat walls."""
    block = Block(sides=("+z", "-z"))
    profile(block, ("-y", "+y"))
    hole = block.hole("-y", (50, 10), 5.0, depth=10, inside=["profile"])
    result = plan(block.document())
    assert result.totals.setups == 3 and of(result, hole) and result.proof.checker == []
    assert sum("soft jaws" in c.clamp_on for c in result.clampings) == 1
    assert any(c.rest_faces == [3] for c in result.clampings), "the hole from -y rests on the profile's wall +y"


def test_six_millimetres_below_are_gripped_while_the_profile_is_cut():
    """With 6 mm on -z the jaws hold the raw layer (5 mm is enough), so no fixture is needed anywhere."""
    block = Block(sides=("+z", "-z"))
    profile(block, ("-y", "+y"))
    result = plan(block.document(), {"stock": [2, 2, 2, 2, 6, 2]})
    assert result.totals.setups == 2 and "needs_fixture" not in codes(result)
    assert "raw layer below" in result.clampings[0].clamp_on and result.proof.checker == []
