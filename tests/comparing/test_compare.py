"""What compare says of states of a part whose changes the scripts in variants.py make. Expected values: those scripts."""

from __future__ import annotations

import json
import random
from functools import cache

import jsonschema
import pytest

from planner import plan
from recognizer import recognize
from service.comparing import compare
from service.comparing.matching import match, shift
from service.comparing.shapes import Shape
from shared.compare import CompareDocument
from shared.features import FeaturesDocument
from tests.comparing.variants import write

LISTS = ("added", "removed", "moved", "resized", "access")


@pytest.fixture(scope="module")
def read(tmp_path_factory):
    folder = tmp_path_factory.mktemp("states")
    return cache(lambda state: recognize(write(state, folder)))


def counts(document):
    return {name: len(document[name]) for name in LISTS if document[name]}


def sizes(change):
    return {s.name: (s.old, s.new) for s in change.sizes}


def test_a_part_equals_itself_whatever_the_order_it_was_cut_in(read):
    first = read("first")
    for other in (first, read("cut_in_another_order")):
        document = compare(first, other)
        assert not counts(document)
        assert len(document.unchanged) == len(first.features) == 14


def test_face_numbers_and_ids_play_no_part(read):
    """The same document with its faces and features shuffled and its ids replaced still matches one to one."""
    first = read("first")
    shuffled = FeaturesDocument.from_json(read("dowel_resized").to_json())
    rng = random.Random(3)
    place = {f.index: k for k, f in enumerate(rng.sample(shuffled.faces, len(shuffled.faces)))}
    for face in shuffled.faces:
        face.index = place[face.index]
    rng.shuffle(shuffled.features)
    for k, feature in enumerate(shuffled.features):
        feature.id, feature.faces = f"f{k}", [place[i] for i in feature.faces]
    document = compare(first, shuffled)
    assert counts(document) == {"resized": 1}
    assert len(document.unchanged) == 13


@pytest.mark.parametrize(
    ("state", "expected"),
    [
        ("hole_added", {"added": 1}),
        ("slot_removed", {"removed": 1}),
        ("side_hole_gone", {"removed": 1}),
        ("dowel_moved", {"moved": 1}),
        ("dowel_resized", {"resized": 1}),
        ("window_deeper", {"resized": 1}),
        ("counterbored", {"resized": 4}),
    ],
)
def test_each_change_is_said_and_nothing_else(read, state, expected):
    document = compare(read("first"), read(state))
    assert counts(document) == expected
    assert document.placement.kind == "same"
    back = compare(read(state), read("first"))
    swapped = {"added": "removed", "removed": "added"}
    assert counts(back) == {swapped.get(name, name): n for name, n in expected.items()}


def test_what_moved_resized_or_changed_its_kind_is_said_in_figures(read):
    first = read("first")
    assert compare(first, read("dowel_moved")).moved[0].moved_by == pytest.approx((5.0, 0.0, 0.0), abs=1e-4)
    assert sizes(compare(first, read("dowel_resized")).resized[0])["diameter"] == pytest.approx((8.0, 10.0))
    assert sizes(compare(first, read("window_deeper")).resized[0]) == {"depth": pytest.approx((16.0, 20.0))}
    bored = compare(first, read("counterbored")).resized
    assert {(c.kind, c.new_kind) for c in bored} == {("round_hole", "counterbore_hole")}
    assert compare(first, read("hole_added")).added[0].kind == "round_hole"


@pytest.mark.parametrize("state", ["turned", "turned_oddly"])
def test_a_model_that_lies_elsewhere_is_laid_back_first(read, state):
    """Turned and moved as a whole, its dowel by 5 mm besides: only that is a change, and in the old coordinates."""
    document = compare(read("first"), read(state))
    assert document.placement.kind == "turned"
    assert document.placement.angle == pytest.approx({"turned": 90.0, "turned_oddly": 40.0}[state], abs=1e-3)
    assert counts(document) == {"moved": 1}
    assert document.moved[0].moved_by == pytest.approx((5.0, 0.0, 0.0), abs=1e-3)


def test_a_longer_block_moves_one_end_and_leaves_the_rest_where_it_is(read):
    document = compare(read("first"), read("longer"))
    assert document.placement.kind == "same"
    moved = {(c.kind, c.moved_by) for c in document.moved}
    assert moved == {("planar_face", (10.0, 0.0, 0.0)), ("round_hole", (10.0, 0.0, 0.0))}
    assert {c.kind for c in document.resized} == {"planar_face"}
    assert not document.added and not document.removed


def test_a_large_pattern_that_moves_is_paired_hole_by_hole():
    """300 equal holes, all 7 by 4 mm further: each is paired with itself, not with a neighbour 20 mm away."""

    def grid(dx, dy):
        return [Shape(f"h{i}_{j}", "round_hole", (20 * i + dx, 20 * j + dy, 0.0), (20 * i + dx + 5, 20 * j + dy + 5, 10.0),
                      (("diameter", 5.0),), ((0.0, 0.0, 1.0),), True) for i in range(20) for j in range(15)]  # fmt: skip

    found = match(grid(0.0, 0.0), grid(7.0, 4.0), 500.0)
    assert len(found.differing) == 300 and all(a.id == b.id for a, b in found.differing)
    assert {shift(a, b) for a, b in found.differing} == {(7.0, 4.0, 0.0)}


def test_the_other_hand_of_a_part_is_noticed(read):
    """The carrier's faces' boxes mirrored across x: no turn lays them on the old ones. Its sister above is its own
    mirror image, and is not called another hand."""
    first = recognize("models/altitude_carrier.step")
    other = FeaturesDocument.from_json(first.to_json())
    for face in other.faces:
        low, high = face.box.min, face.box.max
        face.box.min, face.box.max = (-high[0], low[1], low[2]), (-low[0], high[1], high[2])
    assert "mirrored" in {f.code for f in compare(first, other).findings}
    assert "mirrored" not in {f.code for f in compare(read("first"), read("longer")).findings}


def test_two_unlike_parts_are_said_to_be_unlike(read):
    other = recognize("models/pier_adapter.step")
    document = compare(read("first"), other)
    assert "little_alike" in {f.code for f in document.findings}
    kept = len(document.unchanged) + len({c.old for n in ("moved", "resized", "access") for c in document[n]})
    assert kept + len(document.removed) == 14


class TestPlan:
    def changes(self, read, state):
        documents = read("first"), read(state)
        return compare(*documents, tuple(plan(d, {"simulate": False, "reach": False}) for d in documents))

    def test_no_change_changes_nothing(self, read):
        for state in ("first", "turned_oddly"):
            changes = self.changes(read, state).plan
            assert not changes.setups and not changes.operations
            assert not changes.cutters_added and not changes.cutters_removed

    def test_the_side_that_only_one_hole_needed_is_no_longer_a_setup(self, read):
        document = self.changes(read, "side_hole_gone")
        changes = document.plan
        assert changes.totals_new.setups == changes.totals_old.setups - 1
        assert [s.old is not None for s in changes.setups if s.new is None] == [True]
        assert "removed" in {o.what for o in changes.operations}
        assert {t.DC for t in changes.cutters_removed} == {5.0, 6.0}  # its drill, and the spot drill that only it needs
        assert document.removed[0].operations_old and not document.removed[0].operations_new

    def test_minutes_of_the_change_add_up(self, read):
        """Operations' and cutter changes' minutes explain the whole difference of the totals."""
        changes = self.changes(read, "hole_added").plan
        cut = sum(o.minutes_new - o.minutes_old for o in changes.operations)
        tools = 0.1 * (changes.totals_new.tool_changes - changes.totals_old.tool_changes)
        assert changes.totals_new.minutes - changes.totals_old.minutes == pytest.approx(cut + tools, abs=0.05)


def test_the_command_prints_and_writes_the_same_bytes_twice(sidewise, tmp_path):
    a, b = write("first", tmp_path), write("dowel_moved", tmp_path)
    said = sidewise("compare", a, b)
    assert said.exit_code == 0, said.output
    assert "1 moved" in said.stdout and "moved by 5.00 mm" in said.stdout and "Cautions" in said.stdout
    texts = [sidewise("compare", a, b, "-o", "-").stdout for _ in range(2)]
    assert texts[0] == texts[1]
    jsonschema.validate(json.loads(texts[0]), json.loads(sidewise("schema", "compare").stdout))
    assert CompareDocument.from_json(texts[0]).moved[0].kind == "round_hole"
    alone = CompareDocument.from_json(sidewise("compare", a, b, "--features-only", "-o", "-").stdout)
    assert alone.plan is None and len(alone.moved) == 1


def test_a_bad_file_is_named(sidewise, tmp_path):
    good = write("first", tmp_path)
    bad = tmp_path / "bad.step"
    bad.write_text("no step")
    said = sidewise("compare", good, bad)
    assert said.exit_code == 3 and "bad.step" in said.stderr
