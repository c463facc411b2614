"""On a machine that tilts the part, jaws stand out beyond its ends: rapids over an end must clear them."""

from __future__ import annotations

import cadquery as cq
import pytest

from planner import plan
from planner.recipes.practice import CLEARANCE
from planner.setups.contact import JAW_THICK
from recognizer import recognize


def test_rapids_over_an_end_clear_the_jaws(tmp_path):
    """100 mm long between jaws up to 150 mm wide, holes in the raw end -x and a pocket on top."""
    part = cq.Workplane("XY").box(100, 60, 60, centered=False)
    part = part.cut(cq.Workplane("XY").box(60, 30, 20, centered=False).translate((20, 15, 40)).edges("|Z").fillet(5))
    part = part.faces("<X").workplane(centerOption="CenterOfMass").pushPoints([(-15, 0), (15, 0)]).hole(6.6, 20)
    path = tmp_path / "part.step"
    cq.exporters.export(part, str(path))
    result = plan(recognize(path), {"axes": 5, "stock": [0, 0, 3, 3, 0, 5]})
    tilted = [s for s in result.setups if s.direction[0] == pytest.approx(-1.0)]
    assert tilted and all(s.clearance >= CLEARANCE + JAW_THICK for s in tilted)
    upright = next(s for s in result.setups if s.direction[2] == pytest.approx(1.0))
    assert upright.clearance == pytest.approx(65.0 + CLEARANCE)
    assert not [f for f in result.proof.checker if f.severity == "error"]
