"""ISO/FDIS 14649-11, example 1: its printed cutter is refused for the right two reasons."""

from __future__ import annotations

from math import pi

import cadquery as cq
import numpy as np
import pytest

from shared.fit import bending, misfits
from shared.plan import Tool
from tests.access.parts import flat, reach_of, shop


def test_a_20_mm_cutter_with_an_edge_radius_over_1_does_not_fit_the_example() -> None:
    """Source: the example's pocket has orthogonal_radius 10 and planar_radius 1; its 20 mm cutter breaks both rules.

    The edge radius as printed is not at hand; any over 1 mm shows the rule.
    """
    printed = Tool(id="printed", kind="bullnose_endmill", DC=20, RE=2)
    right = Tool(id="right", kind="bullnose_endmill", DC=16, RE=1)
    assert [reason for reason, _ in misfits(printed, 10.0, 1.0)] == ["corner_too_tight", "floor_radius_too_small"]
    assert misfits(right, 10.0, 1.0) == []


def test_a_long_cutter_bends_with_the_cube_of_its_length_and_the_fourth_power_of_its_diameter() -> None:
    """F L^3 / (3 E I), I = pi d^4 / 64. Source: beam theory (a cantilever loaded at its end), `../shared/checks.md` 2: twice the
    length bends 8 times as far. Checked by summing up the beam's curvature M / (E I) twice, and at figures done by hand:
    100 N on 50 mm of 10 mm carbide: I = 490.874 mm4, 100 * 125000 / (3 * 600000 * 490.874) = 0.014147 mm.
    """
    assert bending(100, 50, 10) == pytest.approx(0.014147, rel=1e-4)
    assert bending(100, 100, 10) == pytest.approx(8 * bending(100, 50, 10))
    assert bending(100, 50, 5) == pytest.approx(16 * bending(100, 50, 10))
    x = np.linspace(0, 50, 20001)
    curve = 100 * (50 - x) / (600_000 * pi * 10**4 / 64)
    slope = np.concatenate([[0], np.cumsum((curve[1:] + curve[:-1]) / 2)]) * (x[1] - x[0])
    assert np.trapezoid(slope, x) == pytest.approx(bending(100, 50, 10), rel=1e-6)


def test_a_long_cutter_is_said_to_bend() -> None:
    """A slot 10 wide and 60 deep: 6 x the diameter, (6 / 5)^3 = 1.7 times as far as at 5 x."""
    part = cq.Workplane().box(60, 40, 80).cut(cq.Workplane().box(60, 10, 60).translate((0, 0, 10)))
    document = reach_of(part, shop(flat(10, 100.0)), directions=[(0.0, 0.0, 1.0)])
    texts = [r for f in document.faces for r in f.reasons if "bends" in r]
    assert any("6.0 x its diameter, and bends 1.7 times as far as at 5 x" in t for t in texts)
