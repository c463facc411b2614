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


def grooved(centre: float = 9.0, radius: float = 3.0) -> cq.Workplane:
    """A bore of 20 mm, 40 deep, with a ring groove of round section half way down, its bottom at centre + radius."""
    block = cq.Workplane().box(60, 60, 40).faces(">Z").workplane().hole(20)
    ring = cq.Workplane("XZ").center(centre, 0).circle(radius).revolve(360, (-centre, 0, 0), (-centre, 1, 0))
    return block.cut(ring)


def lollipop(diameter: float, neck: float) -> Tool:
    return Tool(id="L", kind="lollipop_mill", DC=diameter, RE=diameter / 2, APMX=diameter, DN=neck, LU=40)


@pytest.mark.parametrize(("diameter", "neck", "does"), [(6, 2, True), (6, 2.5, False), (5, 1, True), (7, 2, False)])
def test_a_round_groove_in_a_bore_names_a_lollipop_cutter(diameter: float, neck: float, does: bool) -> None:
    """Its bottom lies 9 + 3 - 10 = 2 mm behind the mouth of 20: a ball of up to 6, its neck 4 mm thinner (geometry)."""
    document = reach_of(grooved(), shop(flat(10), lollipop(diameter, neck)), ids=["D10"], limits=LOOSE)
    found = [u for u in document.undercuts if u.family == "lollipop"]
    assert found and all((u.cutter == "L") is does for u in found)
    assert found[0].head == pytest.approx(4, abs=1e-3) and found[0].head_height == pytest.approx(6, abs=1e-3)
    assert found[0].neck == pytest.approx(2, abs=1e-3) and found[0].neck_length == pytest.approx(20, abs=0.2)
    torus = [f for f in document.faces if f.surface == "torus"]
    assert torus and all((f.verdict == "reached") is does for f in torus)


def test_a_counterbore_whose_mouth_is_shut_off_is_a_back_counterbore_from_the_other_end() -> None:
    """Two lugs: bore 20 and counterbore 24 x 2 on the inner side of one. The neck leaves 2 on either side of the bore: under 16."""
    part = cq.Workplane().box(70, 70, 10, centered=False)
    for y in (0, 40):
        part = part.union(cq.Workplane().box(70, 12, 60, centered=False).translate((0, y, 10)))
    for radius, depth in ((10, 12), (12, 2)):
        part = part.cut(cq.Workplane("XZ", origin=(35, 12, 40)).circle(radius).extrude(depth))
    document = reach_of(part)
    (found,) = document.undercuts
    assert found.family == "backside_counterbore" and document.directions[found.direction].vector == (0.0, -1.0, 0.0)
    assert (found.neck, found.neck_length, found.head, found.head_height) == pytest.approx((16, 10, 4, 2))
    assert sorted(found.faces) == [f.index for f in document.faces if f.verdict == "not_reached"]
