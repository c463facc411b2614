"""Rays against solids against the kernel, on a few random parts; `python -m tests.proof.compare` does a hundred."""

from __future__ import annotations

import pytest

from tests.proof.compare import compared
from tests.random_parts.cases import CASES

SHARE = 1.5e-3
"""Of the stock: rays count areas 1 mm apart here, and chords of arcs lie within 0.01 mm."""


@pytest.mark.parametrize("case", sorted(CASES)[::7])
def test_two_methods_and_the_kernel_agree(case, tmp_path):
    row = compared(case, 1, tmp_path, 0.2)
    assert row.apart < SHARE
    assert row.off < SHARE
    assert row.balance < SHARE
