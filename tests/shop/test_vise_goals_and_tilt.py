"""Goals, prices, jaws and the tilt of a table as a user gives them, and what the plan makes of them."""

from __future__ import annotations

import pytest

from planner import plan
from planner.checker import check
from service.run import Asked, job_from
from shared.errors import DataFileError, UsageError
from shared.plan import GOALS, Vise
from shared.shop.machine import load_machine
from shared.shop.vise import load_vise
from tests.setups.parts import Block, bracket


@pytest.fixture
def write(tmp_path):
    def written(text, name):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return str(path)

    return written


def test_what_is_typed_becomes_the_jobs_vise_goals_and_prices():
    job = job_from(
        Asked(vise="opening=160, jaw_widths=80:125", goals="setups, minutes", weights="clampings=60,minutes=1")
    )
    assert job.vise == Vise(opening=160.0, jaw_widths=[80.0, 125.0])
    assert job.goals == ["setups", "minutes"] and job.weights == {"clampings": 60.0, "minutes": 1.0}
    assert job_from(Asked()).goals == list(GOALS), "nothing typed leaves the defaults"


@pytest.mark.parametrize(
    ("asked", "option"),
    [
        (Asked(vise="opening=wide"), "--vise"),
        (Asked(vise="opening"), "--vise"),
        (Asked(vise="opening=1,opening=2"), "--vise"),
        (Asked(vise="opening=0"), "--vise"),
        (Asked(vise="jaw_height=1:2"), "--vise"),
        (Asked(vise="height=3"), "--vise"),
        (Asked(goals="beauty"), "--goals"),
        (Asked(goals="setups,setups"), "--goals"),
        (Asked(weights="setups=-1"), "--weights"),
        (Asked(weights="setups=0"), "--weights"),
        (Asked(weights="beauty=1"), "--weights"),
    ],
)
def test_a_slip_is_told_with_the_option_and_a_right_example(asked, option):
    with pytest.raises(UsageError) as caught:
        job_from(asked)
    assert caught.value.where == option and option in caught.value.message + caught.value.hint


def test_a_vise_file_in_toml_and_the_same_in_csv(write):
    toml = write("opening = 160\njaw_widths = [80, 125]\nleast_grip = 4\n", "vise.toml")
    rows = write("field,value\nopening,160\njaw_widths,80; 125\nleast_grip,4\n", "vise.csv")
    assert load_vise(toml) == load_vise(rows) == Vise(opening=160, jaw_widths=[80, 125], least_grip=4)
    assert job_from(Asked(vise=toml)).vise == load_vise(toml)


@pytest.mark.parametrize(
    ("text", "where"),
    [("opning = 160\n", "line 1, field opning"), ("jaw_height = 30\nopening = 0\n", "line 2, field opening"), ("[a]\nb = 1\n", "line 1")],
)  # fmt: skip
def test_a_wrong_vise_file_is_told_with_file_line_and_field(write, text, where):
    with pytest.raises(DataFileError) as caught:
        load_vise(write(text, "vise.toml"))
    assert "vise.toml" in caught.value.where and where in caught.value.where


def test_a_vise_too_small_is_not_planned_with(write):
    """A block 104 x 64 x 24 mm with its rim: jaws that open 20 mm take neither pair, so it goes onto the table."""
    wide, narrow = (plan(bracket().document(), {"vise": {"opening": o}}) for o in (200.0, 20.0))
    assert {c.device for c in wide.clampings} == {"vise"}
    assert "vise" not in {c.device for c in narrow.clampings} and not narrow.proof.checker
    assert narrow.job.vise.opening == 20.0


def test_the_plan_says_which_goals_it_was_made_for():
    result = plan(bracket().document(), {"goals": ["minutes"], "weights": {}})
    assert result.job.goals == ["minutes", "clampings", "setups", "tool_changes"]
    priced = plan(bracket().document(), {"weights": {"setups": 10.0, "minutes": 1.0}})
    assert priced.job.weights == {"setups": 10.0, "minutes": 1.0}


def test_a_table_that_leans_little_needs_more_clampings(write):
    """Holes from above and from +x, held on the y sides: one clamping where the table leans 90 degrees, two at 30."""
    block = Block(size=(80.0, 60.0, 40.0))
    for side in ("+z", "+x"):
        block.hole(side, at=(20.0, 20.0), diameter=8.0, depth=10.0)
    job = {"axes": 5, "stock": 0, "simulate": False}
    free = plan(block.document(), job | {"machine": write("axes = 5\ntilt = 90\n", "free.toml")})
    stiff = plan(block.document(), job | {"machine": write("axes = 5\ntilt = 30\n", "stiff.toml")})
    assert (free.totals.clampings, free.totals.setups) == (1, 2)
    assert (stiff.totals.clampings, stiff.totals.setups) == (2, 2)
    assert not free.proof.checker and not stiff.proof.checker
    free.job.machine["tilt"] = 30.0
    assert "tilted_too_far" in {f.code for f in check(free, block.document())}, "the checker has a rule of its own"


def test_a_tilt_that_cannot_be_is_refused(write):
    with pytest.raises(DataFileError, match="tilt"):
        load_machine(write("axes = 5\ntilt = 270\n", "mill.toml"))
