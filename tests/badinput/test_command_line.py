"""Bad input at the front door: exit code, one clear block on standard error, never a traceback."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cadquery as cq
import pytest

from tests.badinput import parts

Sidewise = Callable[..., Any]


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return parts.write(parts.box(), tmp_path_factory.mktemp("good") / "good.step")


def assert_refused(result: Any, exit_code: int, *words: str) -> None:
    assert result.exit_code == exit_code, result.stderr
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    lines = [line for line in result.stderr.splitlines() if not line.endswith(" ...")]  # progress, on a slow machine
    assert lines[0].startswith("Error:")
    assert "\nTry:" in result.stderr
    plain = " ".join(result.stderr.split())
    assert all(word in plain for word in words), plain


def test_missing_file(sidewise: Sidewise, tmp_path: Path) -> None:
    assert_refused(sidewise("features", tmp_path / "none.step"), 3, "no file none.step", "[not_step]")


def test_a_folder(sidewise: Sidewise, tmp_path: Path) -> None:
    assert_refused(sidewise("features", tmp_path), 3, "is a folder")


@pytest.mark.parametrize("command", ["features", "plan"])
def test_not_step(sidewise: Sidewise, tmp_path: Path, command: str) -> None:
    path = tmp_path / "notes.step"
    path.write_text("not a model at all")
    assert_refused(sidewise(command, path), 3, "ISO-10303-21", "Where: notes.step", "Export the model as STEP")


def test_truncated(sidewise: Sidewise, tmp_path: Path, good: Path) -> None:
    path = tmp_path / "cut.step"
    path.write_text(good.read_text()[:5000])
    assert_refused(sidewise("features", path), 3, "truncated", "cut.step, line", "copy it again")


def test_open_shell(sidewise: Sidewise, tmp_path: Path, good: Path) -> None:
    path = tmp_path / "open.step"
    path.write_text(parts.without_a_face(good.read_text()))
    assert_refused(sidewise("plan", path), 3, "open", "[unsound_solid]", "stitch")


def test_two_solids_and_a_choice(sidewise: Sidewise, tmp_path: Path) -> None:
    second = parts.box().val().moved(cq.Location(cq.Vector(100, 0, 0)))
    path = parts.write(cq.Compound.makeCompound([parts.box().val(), second]), tmp_path / "two.step")
    assert_refused(sidewise("features", path), 3, "2 solids", "--solid N (1 to 2)")
    assert sidewise("features", path, "--solid", 2).exit_code == 0


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("id,kind,DC,unit\nE1,endmill,10,furlong\n", ["furlong", "line 2"]),
        ("id,kind,DC\nE1,endmill,-10\n", ["negative", "line 2", "DC"]),
        ("id,kind,DC\nE1,endmill,ten\n", ["ten", "line 2"]),
        ("id,kind,DC\nE1,sawblade,10\n", ["sawblade", "known kinds"]),
        ("", []),
    ],
    ids=["wrong unit", "negative diameter", "no number", "unknown kind", "empty"],
)
def test_bad_cutter_file(sidewise: Sidewise, tmp_path: Path, good: Path, rows: str, words: list[str]) -> None:
    tools = tmp_path / "shop.csv"
    tools.write_text(rows)
    result = sidewise("plan", good, "--tools", tools)
    assert_refused(result, 2, "shop.csv", "[data_file]")
    plain = " ".join(result.stderr.split()).lower()
    assert all(word.lower() in plain for word in words), plain


def test_missing_cutter_file(sidewise: Sidewise, tmp_path: Path, good: Path) -> None:
    assert_refused(sidewise("plan", good, "--tools", tmp_path / "none.csv"), 2, "none.csv")


def test_unknown_material_lists_the_known_ones(sidewise: Sidewise, good: Path) -> None:
    assert_refused(sidewise("plan", good, "--material", "mithril"), 2, "mithril", "aluminium", "steel")


@pytest.mark.parametrize("stock", ["two", "1,2,3", "-1", "nan", "1e9", "none.step"])
def test_stock_that_cannot_be(sidewise: Sidewise, good: Path, stock: str) -> None:
    assert_refused(sidewise("plan", good, f"--stock={stock}"), 2, "Where: good.step, --stock", "2,2,2,2,0,3")


def test_a_stock_file_smaller_than_the_part(sidewise: Sidewise, tmp_path: Path, good: Path) -> None:
    small = parts.write(cq.Workplane("XY").box(40, 30, 10), tmp_path / "small.step")
    assert_refused(sidewise("plan", good, "--stock", small), 2, "does not hold the part")


@pytest.mark.parametrize("thread", ["M12", "10.2=", "=M12"])
def test_thread_without_hole_or_size(sidewise: Sidewise, good: Path, thread: str) -> None:
    assert_refused(sidewise("plan", good, "--thread", thread), 2, "--thread 10.2=M12")


def test_unknown_schema(sidewise: Sidewise) -> None:
    assert_refused(sidewise("schema", "drawing"), 2, "features, plan")


@pytest.mark.parametrize("args", [["features"], ["plan", "x.step", "--axes", "7"], ["nonsense"], ["features", "--no"]])
def test_wrong_usage_exits_with_2(sidewise: Sidewise, args: list[str]) -> None:
    result = sidewise(*args)
    assert result.exit_code == 2
    assert "Usage:" in result.stderr


def test_a_fault_of_our_own_says_how_to_report_it(
    sidewise: Sidewise, good: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from service import run

    def broken(*_: object) -> None:
        raise ZeroDivisionError("float division by zero")

    monkeypatch.setattr(run, "features_of", broken)
    assert_refused(sidewise("features", good), 5, "ZeroDivisionError", "report", "[internal_error]")


def real(*args: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "service.main", *map(str, args)]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)


def test_the_real_command_refuses_without_a_traceback(tmp_path: Path) -> None:
    path = tmp_path / "empty.step"
    path.write_text("")
    done = real("features", path)
    assert (done.returncode, done.stdout) == (3, "")
    assert "Error: The file is empty." in done.stderr
    assert "Traceback" not in done.stderr


def test_the_real_command_outlives_its_worker(tmp_path: Path) -> None:
    ball = parts.write(cq.Workplane().sphere(10), tmp_path / "ball.step")  # a plain part would be read in less
    done = real("features", ball, "--timeout", "0.2")
    assert done.returncode == 4
    assert "[kernel_timeout]" in done.stderr
    assert "--timeout SECONDS" in done.stderr


def test_the_real_command_writes_json_and_nothing_else(good: Path) -> None:
    import json

    done = real("features", good, "-o", "-")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["part"]["solids"] == 1


def test_output_to_a_missing_folder_is_refused_before_reading(sidewise: Sidewise, tmp_path: Path) -> None:
    out = tmp_path / "none" / "x.json"
    assert_refused(sidewise("features", tmp_path / "absent.step", "-o", out), 2, "There is no folder", "--out")


def test_output_to_a_folder(sidewise: Sidewise, good: Path, tmp_path: Path) -> None:
    assert_refused(sidewise("features", good, "-o", tmp_path), 2, "is a folder", "--out")


def test_output_without_a_name(sidewise: Sidewise, good: Path) -> None:
    assert_refused(sidewise("features", good, "-o", ""), 2, "No file is named")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full, a disk that is always full")
def test_full_disk_is_no_fault_of_ours(good: Path) -> None:
    with open("/dev/full", "w") as full:
        command = [sys.executable, "-m", "service.main", "features", str(good)]
        run = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert run.returncode == 2 and "output cannot be written" in run.stderr


def test_a_folder_that_takes_no_files(sidewise: Sidewise, good: Path) -> None:
    assert_refused(sidewise("features", good, "-o", "/proc/x.json"), 2, "cannot be written", "--out")


def test_a_reader_that_goes_away_is_no_failure(good: Path) -> None:
    """`sidewise features PART | head -1` ends with 0."""
    command = [sys.executable, "-m", "service.main", "features", str(good)]
    run = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert run.stdout and run.stderr
    run.stdout.close()
    errors = run.stderr.read()
    assert run.wait() == 0 and "Error" not in errors


def test_a_name_that_is_no_utf8_is_read_all_the_same(sidewise: Sidewise, tmp_path: Path, good: Path) -> None:
    path = tmp_path / os.fsdecode(b"L\xdctz.step")
    path.write_bytes(good.read_bytes())
    result = sidewise("features", path, "-o", "-")
    assert result.exit_code == 0, result.stderr
    assert '"file": "L?tz.step"' in result.stdout
