"""Documents and jobs that cannot be used are refused with what is wrong and a hint; nothing else is raised."""

from __future__ import annotations

import copy
import math

import pytest

from planner import plan
from shared.errors import DataFileError, UsageError
from tests.setups.parts import Block


def part():
    block = Block((100.0, 60.0, 20.0))
    block.hole("+z", (50.0, 30.0), 10.2)
    return block.document()


JOBS = {
    "negative stock": {"stock": -1},
    "five numbers": {"stock": [1, 2, 3, 4, 5]},
    "not a number": {"stock": math.nan},
    "one of six is endless": {"stock": [1, 1, 1, 1, 1, math.inf]},
    "a kilometre": {"stock": 1e6},
    "a file that nobody read": {"stock": "block.step"},
    "a box without the part": {"stock": "b.step", "stock_box": {"min": [0, 0, 0], "max": [1, 1, 1]}},
    "a box that is none": {"stock": "b.step", "stock_box": {"min": [math.nan] * 3, "max": [500, 500, 500]}},
    "two axes": {"axes": 2},
    "no such material": {"material": "unobtainium"},
    "no such field": {"stok": 2},
    "no such thread": {"threads": {"10.2": "M99"}},
    "endless time": {"time_limit": math.inf},
    "time before now": {"time_limit": -1},
    "text": "aluminium",
    "a list": [1, 2],
}


@pytest.mark.parametrize("name", JOBS)
def test_bad_jobs(name):
    with pytest.raises(UsageError) as caught:
        plan(part(), JOBS[name])
    assert caught.value.message and caught.value.hint and caught.value.where and caught.value.exit_code == 2


def spoiled(change):
    document = copy.deepcopy(part().model_dump(mode="json", by_alias=True))
    change(document)
    return document


DOCUMENTS = {
    "nothing": lambda: None,
    "text": lambda: "features",
    "empty": dict,
    "another schema": lambda: spoiled(lambda d: d.update(schema="other/1")),
    "two of one name": lambda: spoiled(lambda d: d["features"][1].update(id=d["features"][0]["id"])),
    "no direction": lambda: spoiled(lambda d: d["features"][0]["views"][0].update(direction=[0, 0, 0])),
    "no level": lambda: spoiled(lambda d: d["features"][0]["views"][0].update(top=math.nan)),
    "no frame": lambda: spoiled(lambda d: d["part"].update(frame=[[1, 0, 0], [1, 0, 0], [0, 0, 1]])),
    "no box": lambda: spoiled(lambda d: d["part"]["frame_box"].update(max=[0, 0, 0])),
}


@pytest.mark.parametrize("name", DOCUMENTS)
def test_bad_documents(name):
    with pytest.raises(UsageError) as caught:
        plan(DOCUMENTS[name]())
    assert caught.value.message and "sidewise features" in caught.value.hint


def test_a_cutter_file_that_is_missing():
    with pytest.raises(DataFileError) as caught:
        plan(part(), {"tools": "missing.csv"})
    assert caught.value.where == "missing.csv"


def test_a_thread_for_no_hole_is_said():
    """10.2 mm is there (M12, ISO 2306), 8.5 mm is not: nothing is silently left out."""
    result = plan(part(), {"threads": {"10.2": "M12", "8.5": "M10"}})
    assert [op.tool.TDZ for s in result.setups for op in s.operations if op.name == "tap"] == ["M12"]
    assert ["8.5" in f.message for f in result.findings if f.code == "thread_unused"] == [True]


def test_one_cutter_only(tmp_path):
    """A table without drills and chamfer cutters: the rest is planned, what is not is said, and the checker agrees."""
    path = tmp_path / "one.csv"
    path.write_text("id,kind,DC\nA,endmill,8\n", encoding="utf-8")
    document = part()
    result = plan(document, {"tools": str(path)})
    assert not result.proof.checker
    assert {op.tool.id for s in result.setups for op in s.operations} == {"A"}
