"""Every demo part is recognised as it was cut: no more, no less.

Source of the truth: the record that each part's script wrote while cutting (tests/demo/truth.py).
"""

import pytest

from models import PARTS
from shared.features import HOLE_KINDS
from tests.demo.truth import cuts, recognized, record_of, unmatched

CLEAR = [part for part in PARTS if not record_of(part)["ambiguous"]]
AMBIGUOUS = [part for part in PARTS if record_of(part)["ambiguous"]]


def explain(part: str, complaints: list[str], extra: list[str]) -> str:
    lines = [
        f"{part}: {len(complaints)} cuts not recognised as they were made, {len(extra)} features not in the record"
    ]
    return "\n  ".join([*lines, *complaints, *(f"not cut: {text}" for text in extra)])


@pytest.mark.parametrize("part", CLEAR)
def test_part_is_recognised_exactly_as_it_was_cut(part: str) -> None:
    complaints, left = unmatched(cuts(part), recognized(part).features)
    extra = [f"{f.id} {f.dimensions} faces {f.faces}" for f in left]
    assert not complaints and not extra, explain(part, complaints, extra)


@pytest.mark.parametrize("part", CLEAR)
def test_patterns_are_found(part: str) -> None:
    """Each pattern of the record, by kind and number of holes, is in the document; four on a circle are a square too."""
    record = record_of(part)
    counts = {entry["name"]: entry["count"] for entry in record["features"]}
    wanted = sorted((p["kind"], sum(counts[name] for name in p["features"])) for p in record["patterns"])
    found = [(pattern.kind, len(pattern.features)) for pattern in recognized(part).patterns]
    left = list(found)
    missing = []
    for kind, count in wanted:
        names = ("circular", "rectangular") if count == 4 and kind == "circular" else (kind,)
        match = next((item for item in left if item[0] in names and item[1] == count), None)
        if match is None:
            missing.append((kind, count))
        else:
            left.remove(match)
    assert not missing, f"{part}: patterns {missing} are not among {sorted(found)}"


@pytest.mark.parametrize("part", PARTS)
def test_every_face_is_owned_or_excused(part: str) -> None:
    lost = [face.index for face in recognized(part).faces if face.feature is None and not face.reason]
    assert not lost


@pytest.mark.parametrize("part", AMBIGUOUS)
def test_ambiguous_part_keeps_what_is_beyond_argument(part: str) -> None:
    """Blind tap holes and outer faces touch no overlap: they must be found; the overlapping cuts may be read otherwise."""
    sure = [cut for cut in cuts(part) if cut["kind"] == "planar_face" or cut["bottom_condition"] == "conical"]
    complaints, _ = unmatched(sure, recognized(part).features)
    assert not complaints, explain(part, complaints, [])


@pytest.mark.parametrize("part", AMBIGUOUS)
def test_ambiguous_part_removes_what_was_cut(part: str) -> None:
    """However it is read, the removed volume is stock minus part, and some pocket kinds are told."""
    document = recognized(part)
    closure = document.closure
    assert closure.stock_volume == pytest.approx(100.0 * 80.0 * 40.0, rel=1e-6)  # the block of models/cable_block.py
    assert any(f.kind not in HOLE_KINDS and f.kind != "planar_face" for f in document.features)
