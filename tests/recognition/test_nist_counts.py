"""Holes, pockets, slots and steps of the NIST parts equal those counted by hand (nist_counts.toml says how).

Source of the parts: NIST MBE PMI Validation and Conformance Testing project, CTC 01, 03 and 05 (public domain).
"""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from recognizer import recognize
from shared.features import HOLE_KINDS, POCKET_KINDS, Feature, FeaturesDocument

HERE = Path(__file__).parent
NIST = HERE.parents[2] / "shared" / "benchmarks" / "nist"
PARTS = tomllib.loads((HERE / "nist_counts.toml").read_text())["part"]
BY_FILE = pytest.mark.parametrize("part", PARTS, ids=[p["file"][:11] for p in PARTS])
CLOSE = 0.02


@cache
def document(file: str) -> FeaturesDocument:
    if not (NIST / file).exists():
        pytest.skip("../shared/benchmarks/nist is not here")
    return recognize(NIST / file)


def sizes(f: Feature) -> list[float]:
    return sorted(f.dimensions[n] for n in ("length", "width", "depth"))


def fits(f: Feature, cut: dict[str, Any]) -> bool:
    if f.kind not in cut["kinds"]:
        return False
    wanted = sorted(cut.get("size", []))
    return not wanted or all(abs(a - b) < CLOSE for a, b in zip(sizes(f), wanted, strict=True))


@BY_FILE
def test_every_face_is_owned(part: dict[str, Any]) -> None:
    faces = document(part["file"]).faces
    assert len(faces) == part["faces"]
    assert [f.index for f in faces if f.feature is None] == []


@BY_FILE
def test_holes_equal_the_hand_count(part: dict[str, Any]) -> None:
    left = [f for f in document(part["file"]).features if f.kind in HOLE_KINDS]
    for h in part["hole"]:
        found = [f for f in left if _same_hole(f, h)]
        assert len(found) == h["count"], h
        left = [f for f in left if f not in found]
    assert [(f.kind, f.dimensions) for f in left] == []


def _same_hole(f: Feature, h: dict[str, Any]) -> bool:
    sizes_fit = all(abs(f.dimensions[n] - h[n]) < CLOSE for n in ("diameter", "depth"))
    return (f.kind, f.bottom_condition) == (h["kind"], h["bottom"]) and sizes_fit


@BY_FILE
def test_pockets_slots_and_steps_equal_the_hand_count(part: dict[str, Any]) -> None:
    """Each counted cut is there under a name that fits; those of a counted size first, and nothing is left over."""
    left = [f for f in document(part["file"]).features if f.kind in POCKET_KINDS]
    for cut in sorted(part["cut"], key=lambda c: ("size" not in c, len(c["kinds"]))):
        found = [f for f in left if fits(f, cut)][: cut["count"]]
        assert len(found) == cut["count"], cut["what"]
        left = [f for f in left if f not in found]
    assert [(f.kind, f.dimensions) for f in left] == []
