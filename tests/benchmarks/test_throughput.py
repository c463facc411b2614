"""The throughput command measures what it says; no time is judged here."""

from __future__ import annotations

from pathlib import Path

import cadquery as cq
import pytest

from tests.benchmarks import throughput


@pytest.fixture
def parts(tmp_path: Path) -> Path:
    for k in range(2):
        made = cq.Workplane().box(40 + k, 30, 20).faces(">Z").workplane().hole(8, 10)
        cq.exporters.export(made, str(tmp_path / f"part_{k}.step"))
    return tmp_path


def test_three_ways_are_measured_side_by_side(parts: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert throughput.main([str(parts), "--workers", "1"]) == 0
    said = capsys.readouterr()
    assert [line.split(":")[0] for line in said.out.splitlines()] == ["plain reads", "features", "features and plan"]
    assert not said.err


def test_memory_is_watched_over_the_parts_asked_for(parts: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert throughput.main([str(parts), "--memory", "3"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[1] for line in lines] == ["1", "2", "3"]
    assert all(int(line.split()[3]) > 20 for line in lines)


def test_a_folder_without_parts_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert throughput.main([str(tmp_path)]) == 2
    assert "no STEP files" in capsys.readouterr().err
