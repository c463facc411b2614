"""Undercuts name their cutter family, and what its neck and head must measure."""

from __future__ import annotations

import cadquery as cq
import pytest

from shared.plan import Tool
from shared.reach import ReachLimits
from tests.access.parts import flat, reach_of, shop

LOOSE = ReachLimits(fail=1e6)


def tee() -> cq.Workplane:
    """A tee slot: a mouth of 10, a foot of 18 x 8 under a lid of 10 mm; sharp inside, so only a tee cutter does it whole."""
    right = [(9, -18), (9, -10), (5, -10), (5, 1)]
    outline = cq.Workplane("XZ").polyline(right + [(-x, z) for x, z in reversed(right)]).close()
    return cq.Workplane().box(60, 200, 60).translate((0, 0, -30)).cut(outline.extrude(150, both=True))


def test_a_tee_slot_names_its_cutter_and_its_measures() -> None:
    head = Tool(id="T18", kind="t_slot_mill", DC=18, APMX=8, DN=8, LU=30)
    mills = [flat(10), flat(6)]
    document = reach_of(tee(), shop(*mills, head), ids=["D10"], limits=LOOSE)
    (found,) = document.undercuts
    assert (found.family, found.cutter) == ("t_slot_mill", "T18")
    assert (found.neck, found.neck_length, found.head_height) == pytest.approx((10, 10, 8))
    assert found.head == pytest.approx(8), "twice the 4 mm that the foot goes in behind the mouth"
    assert next(f for f in document.features if f.feature == found.feature).verdict == "reached"


@pytest.mark.parametrize("change", [{"DN": 11}, {"APMX": 9}, {"LU": 15}, {"DC": 20}, {"DC": 15}])
def test_a_cutter_that_does_not_measure_up_is_not_named(change: dict[str, float]) -> None:
    size = {"DC": 18, "APMX": 8, "DN": 8, "LU": 30, **change}
    document = reach_of(tee(), shop(flat(10), Tool(id="T", kind="t_slot_mill", **size)), ids=["D10"], limits=LOOSE)
    (found,) = document.undercuts
    assert found.cutter is None and "no cutter of the file does it" in found.text
    assert document.verdict == "not_reached"
