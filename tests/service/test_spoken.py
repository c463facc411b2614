"""Sentences for people who think in inches. 1 in = 25.4 mm exactly (ISO 31-1)."""

from __future__ import annotations

from service.spoken import in_both, spoken
from shared.findings import Finding


def test_lengths_get_their_inches_and_nothing_else_does():
    said = in_both("the 25.4 mm cutter leaves 36.2 mm2 in plan at 2865 mm/min, 0.127 mm a tooth, level -50.8 mm")
    assert said == (
        "the 25.4 mm (1 in) cutter leaves 36.2 mm2 in plan at 2865 mm/min, 0.127 mm (0.005 in) a tooth, level -50.8 mm (-2 in)"
    )


def test_a_document_in_mm_is_left_alone():
    finding = Finding(code="c", message="12.7 mm deep", hint="a 6.35 mm cutter", features=["round_hole-1"])
    assert spoken(finding, inch=False) is finding
    assert spoken(finding, inch=True).message == "12.7 mm (0.5 in) deep"
    assert spoken(finding, inch=True).hint == "a 6.35 mm (0.25 in) cutter"
    assert finding.message == "12.7 mm deep"
