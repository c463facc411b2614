"""A sample of the spoilt files; `python -m tests.hostile` runs thousands."""

from __future__ import annotations

import subprocess
import sys

from tests.hostile.mutations import MUTATIONS, mutant
from tests.hostile.parts import good_texts
from tests.hostile.second_look import unsound
from tests.hostile.shapes import SHAPE_MUTATIONS

SHAPES = {m.__name__ for m in SHAPE_MUTATIONS}

TEXT = """ISO-10303-21;
DATA;
#1 = CARTESIAN_POINT('',(0.,1.5,2.));
#2 = DIRECTION('',(0.,0.,1.));
#3 = AXIS2_PLACEMENT_3D('',#1,#2,#2);
#4 = PLANE('',#3);
#5 = ADVANCED_FACE('',(#6),#4,.T.);
#7 = CLOSED_SHELL('',(#5,#5));
ENDSEC;
END-ISO-10303-21;
"""


def test_the_same_number_gives_the_same_bytes_and_each_mutation_changes_something() -> None:
    changed = set()
    for number in range(10 * len(MUTATIONS)):
        text = good_texts()[3] if list(MUTATIONS)[number % len(MUTATIONS)] in SHAPES else TEXT
        name, data = mutant(text, number)
        assert (name, data) == mutant(text, number)
        changed |= {name} if data != text.encode() else set()
    assert changed == set(MUTATIONS)


def test_a_sample_ends_in_results_or_errors_with_hints() -> None:
    ended = subprocess.run(
        [sys.executable, "-m", "tests.hostile", "--count", "58", "--first", "7000", "--seconds", "15"],
        capture_output=True, text=True, timeout=600, check=False,
    )  # fmt: skip
    assert ended.returncode == 0, ended.stdout + ended.stderr
    assert "58 files" in ended.stdout and "0 got through" in ended.stdout


def test_the_good_parts_are_good() -> None:
    assert [unsound(text.encode()) for text in good_texts()] == [None] * 8
