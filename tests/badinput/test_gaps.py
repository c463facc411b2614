"""Edges that miss their faces: said where it is little, refused where it is much. Truth by construction."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from recognizer import recognize
from shared.errors import UnsoundSolid
from tests.badinput import parts


def bored(folder: Path, off: float) -> Path:
    """The good part, its hole's cylinder (not its edges) too wide by this."""
    text = parts.good_text(folder)
    wide = re.sub(r"(CYLINDRICAL_SURFACE\('',#\d+,)4\.\)", rf"\g<1>{4 + off:.6f})", text)
    assert wide != text
    path = folder / "gap.step"
    path.write_text(wide)
    return path


def test_a_gap_of_three_hundredths_is_said(tmp_path: Path) -> None:
    (gap,) = [f for f in recognize(bored(tmp_path, 0.03)).findings if f.code == "gaps"]
    assert "0.03 mm" in gap.message and gap.severity == "warning"


def test_a_gap_of_a_tenth_is_refused_and_a_sound_part_says_nothing(tmp_path: Path) -> None:
    with pytest.raises(UnsoundSolid, match="do not meet: gaps of up to 0.1 mm"):
        recognize(bored(tmp_path, 0.1))
    assert not [f for f in recognize(tmp_path / "good.step").findings if f.code == "gaps"]
