"""Small parts in a folder, and a way to run the command as its user does."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import cadquery as cq
import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four good parts and three that cannot be used."""
    made = tmp_path_factory.mktemp("parts")
    (made / "sub").mkdir()
    for n, width in enumerate((20, 30, 40, 50)):
        part = cq.Workplane().box(60, width, 10).faces(">Z").workplane().hole(6)
        cq.exporters.export(part, str(made / ("sub" if n == 3 else "") / f"plate_{width}.step"))
    (made / "empty.step").write_bytes(b"")
    (made / "letter.stp").write_text("Dear machinist,\nthe drawing follows.\n")
    text = (made / "plate_20.step").read_text()
    (made / "cut_short.step").write_text(text[: len(text) // 2])
    return made


def command(*arguments: object) -> list[str]:
    return [sys.executable, "-m", "service.main", *map(str, arguments)]


def environment() -> dict[str, str]:
    return os.environ | {"PYTHONPATH": str(ROOT)}


def sidewise(*arguments: object, **options: object) -> subprocess.CompletedProcess[str]:
    """`sidewise ...` in a process of its own."""
    return subprocess.run(
        command(*arguments), capture_output=True, text=True, timeout=300, env=environment(), check=False, **options
    )  # type: ignore[call-overload]
