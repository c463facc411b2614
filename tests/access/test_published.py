"""ISO/FDIS 14649-11, example 1: its printed cutter is refused for the right two reasons."""

from __future__ import annotations

from shared.fit import misfits
from shared.plan import Tool


def test_a_20_mm_cutter_with_an_edge_radius_over_1_does_not_fit_the_example() -> None:
    """Source: the example's pocket has orthogonal_radius 10 and planar_radius 1; its 20 mm cutter breaks both rules.

    The edge radius as printed is not at hand; any over 1 mm shows the rule.
    """
    printed = Tool(id="printed", kind="bullnose_endmill", DC=20, RE=2)
    right = Tool(id="right", kind="bullnose_endmill", DC=16, RE=1)
    assert [reason for reason, _ in misfits(printed, 10.0, 1.0)] == ["corner_too_tight", "floor_radius_too_small"]
    assert misfits(right, 10.0, 1.0) == []
