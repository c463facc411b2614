"""The committed parts and records are what the scripts write today, byte for byte."""

from pathlib import Path

import pytest

import models
from models import PARTS, build
from tests.demo.truth import FOLDER


@pytest.mark.parametrize("part", PARTS)
def test_script_writes_the_committed_bytes(part: str, tmp_path: Path) -> None:
    build(part).save(tmp_path)
    for name in (f"{part}.step", f"{part}.json"):
        fresh, kept = (tmp_path / name).read_bytes(), (FOLDER / name).read_bytes()
        assert fresh == kept, f"{name} is out of date: run `python -m models {part}` and commit it"


def test_every_script_is_listed() -> None:
    scripts = {path.stem for path in FOLDER.glob("*.py")} - {"__init__", "__main__", "picture"}
    assert scripts == set(PARTS)
    assert all(f"\n| {part} " in (models.__doc__ or "") for part in PARTS)
