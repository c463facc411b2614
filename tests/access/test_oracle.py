"""Reach agrees with a slow oracle of rays and height maps that shares no code with it (the whole: python -m tests.access)."""

from __future__ import annotations

import pytest

from tests.access.compare import disagreements
from tests.random_parts.cases import build


@pytest.mark.parametrize("case", ["half_hole", "drafted_pocket", "tee_slot"])
def test_reach_agrees_with_rays_and_height_maps(case: str) -> None:
    found, count = disagreements(build(case, 0).shape.wrapped, sides=2 if case != "half_hole" else 4)
    assert count > 20 and not found
