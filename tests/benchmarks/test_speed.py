"""The speed command measures what it says; no time is judged here."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.benchmarks import speed
from tests.benchmarks.plates import write_plate


def test_plate_has_about_the_faces_asked_for_and_is_measured(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, faces = write_plate(80, tmp_path)
    assert faces == 6 + 4 * 18
    assert speed.main([str(path), "--repeat", "1", "--recognizer", "tests.benchmarks.speed:plain_read"]) == 0
    assert "1 files, recognition / plain read: median" in capsys.readouterr().out


def test_sample_is_spread_over_all_names() -> None:
    assert speed._spread(list(range(10)), 4) == [0, 3, 6, 9]
    assert speed._spread([1, 2], 60) == [1, 2]
