"""Notes on a drawing: what they ask for is planned, what matches nothing is said, a wrong file is told by line."""

from __future__ import annotations

import pytest

from planner import plan
from planner.noted import finish_as_noted
from planner.recipes import operations_for
from recognizer import recognize
from shared.errors import DataFileError
from shared.plan import Job
from shared.shop.notes import Note, Notes, it_grade, it_width, load_notes
from tests.recipes.hand import cylinder, document, feature, hole, job, rectangle, view


def asked(**more):
    return Notes((Note(where="notes.toml, line 1", **more),))


def operations(cut, notes, **more):
    recipe = operations_for(cut, cut.views[0], job(notes=notes, **more), document(cut))
    finish_as_noted(recipe, [cut], notes)
    return recipe


class TestHoles:
    def test_a_tolerance_is_drilled_under_size_and_reamed(self):
        """10 H7, 20 deep through: drilled 9.8, reamed 10. Stock 0.2 mm lies within 0.1 to 0.3; source: from memory."""
        cut = hole(20, cylinder(10, 20, 0))
        recipe = operations(cut, asked(kind="tolerance", diameter=10.0, grade=7, text="H7"))
        assert [(op.name, op.tool.kind, op.tool.DC) for op in recipe.operations[1:]] == [
            ("drill", "twist_drill", 9.8), ("ream", "reamer", 10.0)]  # fmt: skip
        drill, ream = recipe.operations[1:]
        assert not drill.faces and ream.faces
        assert any("H7 asked for 10 mm" in text for text in ream.because)

    def test_without_a_note_the_same_hole_is_drilled_and_the_pin_is_a_hint(self):
        recipe = operations(hole(20, cylinder(10, 20, 0)), Notes())
        assert [op.name for op in recipe.operations] == ["spot", "drill"]
        assert "may_be_reamed" in {f.code for f in recipe.findings}

    def test_a_wide_hole_is_bored(self):
        cut = hole(20, cylinder(40, 20, 0))
        recipe = operations(cut, asked(kind="tolerance", feature="F1", grade=7, text="H7"))
        last = recipe.operations[-1]
        assert (last.name, last.tool.kind) == ("bore", "boring_tool")
        assert last.passes.radial_depth * 2 == pytest.approx(0.5)
        assert all(op.tool.DC < 40 for op in recipe.operations)

    def test_a_blind_reamed_hole_says_what_the_lead_leaves(self):
        cut = hole(20, cylinder(8, 20, 0), through=False, condition="flat")
        recipe = operations(cut, asked(kind="tolerance", diameter=8.0, grade=7, text="H7"))
        ream = next(op for op in recipe.operations if op.name == "ream")
        assert ream.levels.bottom == pytest.approx(1.2)
        assert "reamer_lead" in {f.code for f in recipe.findings}

    def test_a_coarse_tolerance_asks_for_nothing_more(self):
        cut = hole(20, cylinder(10, 20, 0))
        recipe = operations(cut, asked(kind="tolerance", diameter=10.0, grade=12, text="H12"))
        assert [op.name for op in recipe.operations] == ["spot", "drill"]

    @pytest.mark.parametrize(("diameter", "grade"), [(10.0, 4), (9.37, 7)])
    def test_what_no_tool_holds_is_said(self, diameter, grade):
        cut = hole(20, cylinder(diameter, 20, 0))
        recipe = operations(cut, asked(kind="tolerance", diameter=diameter, grade=grade, text=f"H{grade}"))
        assert "tolerance_not_planned" in {f.code for f in recipe.findings}
        assert recipe.operations

    def test_a_thread_with_a_depth(self):
        """M8 by its tap drill 6.8 (ISO 2306), 12 deep in a hole of 22: the run-out e1 of 6.2 mm (DIN 76-2) is kept."""
        cut = hole(22, cylinder(6.8, 22, 0), through=False, condition="conical")
        recipe = operations(cut, asked(kind="thread", diameter=6.8, size="M8", depth=12.0))
        tap = recipe.operations[-1]
        assert tap.name == "tap" and tap.levels.top - tap.levels.bottom == pytest.approx(12.0)
        deep = operations(cut, asked(kind="thread", diameter=6.8, size="M8", depth=20.0))
        assert deep.operations[-1].levels.bottom == pytest.approx(6.2)
        assert "thread_too_deep" in {f.code for f in deep.findings}

    def test_a_smooth_wall_is_reamed_as_well(self):
        cut = hole(20, cylinder(10, 20, 0))
        recipe = operations(cut, asked(kind="roughness", diameter=10.0, Ra=0.8))
        assert recipe.operations[-1].name == "ream"


class TestSurfaces:
    def test_a_smooth_wall_is_cut_slower_and_twice(self):
        """Ra 0.8: 0.4 of the feed, and the path twice: five times the minutes at feed."""
        cut = feature(view("step", 10, **rectangle(100, 30, "-x +x -y")), walls=[12], faces=[12, 20], bottom=[20])
        plain = operations(cut, Notes()).operations
        fine = operations(cut, asked(kind="roughness", face=12, Ra=0.8)).operations
        for a, b in zip(plain, fine, strict=True):
            if 12 in a.faces:
                assert b.feed == pytest.approx(0.4 * a.feed)
                assert b.path_length == pytest.approx(2 * a.path_length)
                assert b.minutes - a.minutes == pytest.approx(4 * a.path_length / a.feed)
                assert any("Ra 0.8 at face 12" in text for text in b.because)
            else:
                assert b == a
        assert any(12 in a.faces for a in plain)

    def test_a_cutter_with_a_radius_keeps_the_feed_of_the_formula(self):
        """f^2 / (8 RE) = 4 Ra: a boring tool of RE 0.4 gives Ra 1.6 at sqrt(8 x 0.4 x 0.0064) = 0.143 mm a rev.
        Source: a tool maker's formula of theoretical roughness, from memory; 4 Ra: common practice."""
        cut = hole(20, cylinder(40, 20, 0))
        notes = Notes((Note("tolerance", "", 40.0, grade=7, text="H7"), Note("roughness", "", 40.0, Ra=0.2)))
        bored = operations(cut, notes).operations[-1]
        assert bored.feed / bored.speed <= (8 * 0.4 * 0.0008) ** 0.5 + 1e-9
        assert "finish_not_milled" in {f.code for f in operations(cut, notes).findings}


class TestWholePlan:
    @pytest.fixture(scope="class")
    def features(self):
        return recognize("models/altitude_carrier.step")

    def test_a_plan_with_notes_passes_the_checker_and_names_what_matched_nothing(self, features, tmp_path):
        path = tmp_path / "notes.toml"
        path.write_text(
            '[[thread]]\ndiameter = 10.2\nsize = "M12"\ndepth = 18\n'
            "[[tolerance]]\ndiameter = 17.5\nupper = 0.02\nlower = 0\n"
            '[[tolerance]]\ndiameter = 8\ngrade = "H7"\n'
            "[[roughness]]\ndiameter = 12.3\nRa = 0.8\n"
            '[[tolerance]]\nfeature = "round_hole-000000"\ngrade = "H7"\n'
        )
        result = plan(features, Job(notes=str(path)))
        names = [op.name for s in result.setups for op in s.operations]
        assert {"tap", "bore", "ream"} <= set(names)
        assert not result.proof.checker
        unused = [f.message for f in result.findings if f.code == "note_unused"]
        assert len(unused) == 2
        said = " ".join(sorted(unused))
        assert "line 12: the roughness for 12.3 mm" in said and "line 15: the tolerance for round_hole-000000" in said

    def test_the_command(self, sidewise, tmp_path):
        path = tmp_path / "notes.csv"
        path.write_text("note,diameter,feature,face,size,grade,Ra\nthread,4.2,,,M5,,\nroughness,,,0,,,1.6\n")
        said = sidewise("plan", "models/balance_weight.step", "--notes", path)
        assert said.exit_code == 0 and "M5 tap" in said.stdout
        path.write_text("note,diameter,size\nthread,4.2,M5.5\n")
        said = sidewise("plan", "models/balance_weight.step", "--notes", path)
        assert said.exit_code == 2 and "notes.csv, line 2, field size" in said.stderr


@pytest.mark.parametrize(
    ("text", "where", "says"),
    [
        ('[[thread]]\nsize = "M8"', "line 1", "without a place"),
        ('[[thread]]\ndiameter = 6.8\nsize = "M8.5"', "line 3, field size", "in no table"),
        ('[[tolerance]]\nface = 3\ngrade = "seven"', "line 3, field grade", "H7"),
        ('[[tolerance]]\nface = 3\nupper = 0.01', "line 1", "upper and lower"),
        ('[[tolerance]]\nface = 3\nupper = 0.01\nlower = 0.02', "line 3, field upper", "not above"),
        ('[[roughness]]\nface = 1.5\nRa = 1', "line 2, field face", "whole"),
        ('[[roughness]]\nface = 1\nRz = 6.3', "line 3, field Rz", "known fields"),
        ('[[thred]]\nface = 1', "line 1", "[[thread]]"),
        ('diameter = 8', "line 1", "outside"),
    ],
)  # fmt: skip
def test_a_wrong_notes_file_is_told_with_line_and_field(tmp_path, text, where, says):
    path = tmp_path / "notes.toml"
    path.write_text(text)
    with pytest.raises(DataFileError) as caught:
        load_notes(str(path))
    assert caught.value.where == f"notes.toml, {where}"
    assert says in caught.value.message + caught.value.hint


@pytest.mark.parametrize(("diameter", "grade", "published"), [(10, 7, 0.015), (40, 7, 0.025)])
def test_grades_are_those_of_the_standard_within_a_tenth(diameter, grade, published):
    """Source: H7 of D10 and D40 as printed in an annex example of ISO 14649-11 (ISO 286)."""
    assert it_width(grade, diameter) == pytest.approx(published, rel=0.11)
    assert it_grade(published, diameter) == grade
