"""A model of the stock: its box is taken, and the plan says so, and whether it fills it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import cadquery as cq
import pytest

from tests.http.conftest import ROOT


@pytest.mark.parametrize("round_", [False, True], ids=["a block", "a round bar"])
def test_the_plan_says_how_the_stock_model_was_taken(tmp_path: Path, round_: bool) -> None:
    """A round bar of 100 mm fills pi / 4 of its box: 79 %."""
    cq.exporters.export(cq.Workplane().box(60, 40, 10), str(tmp_path / "plate.step"))
    blank = cq.Workplane().circle(50).extrude(20).translate((0, 0, -10)) if round_ else cq.Workplane().box(70, 50, 16)
    cq.exporters.export(blank, str(tmp_path / "blank.step"))
    command = [sys.executable, "-m", "service.main", "plan", str(tmp_path / "plate.step"), "-o", "-"]
    told = subprocess.run(
        [*command, "--stock", str(tmp_path / "blank.step")], check=True, capture_output=True, text=True, cwd=ROOT
    )
    note = next(f for f in json.loads(told.stdout)["findings"] if f["code"] == "stock_model")
    assert str(tmp_path) not in note["message"] and "blank.step" in note["message"]
    if round_:
        assert note["severity"] == "warning" and "fills 79%" in note["message"] and "20 on -x" in note["message"]
    else:
        assert note["severity"] == "note" and "5 on -x" in note["message"] and "3 on +z" in note["message"]
