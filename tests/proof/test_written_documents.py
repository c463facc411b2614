"""The proof of a turned part whose documents went through JSON, where directions keep six decimals."""

from __future__ import annotations

from pathlib import Path

from service.run import Asked, Limits, planned

PART = Path(__file__).resolve().parents[2] / "models" / "encoder_cover.step"


def test_six_decimals_gouge_nothing() -> None:
    _, plan = planned(str(PART), None, Asked(), Limits())
    assert plan.proof.gouged == 0 and plan.proof.left_uncut == 0 and not plan.proof.checker
