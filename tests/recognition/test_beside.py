"""What stands beside a flat face or a boss limits the cutters: parts made here, gaps by arithmetic on their sizes."""

from __future__ import annotations

import math

import cadquery as cq
import pytest

from planner import plan
from recognizer import recognize

UP = (0.0, 0.0, 1.0)


@pytest.fixture
def read(tmp_path):
    def made(work):
        path = tmp_path / "part.step"
        cq.exporters.export(work, str(path))
        return recognize(path)

    return made


def plate(height=5.0):
    return cq.Workplane("XY").box(80, 60, height, centered=(True, True, False))


def from_above(document, kind):
    return [v for f in document.features if f.kind == kind for v in f.views[:1] if v.direction == pytest.approx(UP)]


def pins(pitch, diameter):
    return plate().faces(">Z").workplane().rarray(pitch, pitch, 2, 2).circle(diameter / 2).extrude(12)


def test_round_a_boss_the_nearest_one_is_the_limit(read):
    """Pitch less diameter: 11 - 5 = 6 mm."""
    gaps = [v.largest_cutter for v in from_above(read(pins(11, 5)), "boss")]
    assert gaps == pytest.approx([6.0] * 4, abs=2e-3)


def test_the_floor_round_bosses_is_passed_by_what_passes_between_them(read):
    (floor,) = (v for v in from_above(read(pins(11, 5)), "planar_face") if v.bottom == pytest.approx(5.0))
    assert floor.narrowest_gap == pytest.approx(6.0, abs=0.06)


def test_a_lone_boss_and_an_outermost_face_have_no_limit(read):
    document = read(plate().faces(">Z").workplane().circle(8).extrude(12))
    assert [v.narrowest_gap for v in from_above(document, "boss")] == [None]
    assert {v.narrowest_gap for v in from_above(document, "planar_face")} == {None}


def test_bosses_close_together_are_finished_by_a_cutter_that_passes(read):
    result = plan(read(pins(11, 5)))
    done = [op for s in result.setups for op in s.operations if op.name == "finish boss"]
    assert len(done) == 4 and all(op.tool.DC <= 6.0 for op in done)
    assert result.proof.gouged == 0.0
    assert any("rest rough" in op.name for s in result.setups for op in s.operations), (
        "between them a smaller one clears"
    )


def test_a_low_pad_beside_a_high_one_is_faced_by_what_stays_off_it(read):
    """10 mm apart, 12 mm wide both: a disc that touches the high one's side covers the low one, however large it is."""
    low = plate().faces(">Z").workplane(origin=(-11, 0, 0)).rect(12, 12).extrude(3)
    document = read(low.union(cq.Workplane("XY", origin=(11, 0, 5)).rect(12, 12).extrude(9)))
    (pad,) = (v for v in from_above(document, "planar_face") if v.bottom == pytest.approx(8.0))
    assert pad.narrowest_gap is None
    assert plan(document).proof.gouged == 0.0


def island():
    block = cq.Workplane("XY").box(100, 70, 30, centered=(True, True, False))
    block = block.cut(cq.Workplane("XY").workplane(offset=14).rect(76, 50).extrude(16).edges("|Z").fillet(6))
    return block.union(cq.Workplane("XY").workplane(offset=14).rect(20, 14).extrude(8))


def test_the_top_of_an_island_comes_after_its_pocket(read):
    document = read(island())
    pocket = next(f for f in document.features if f.kind == "closed_pocket")
    top = next(f for f in document.features if f.kind == "planar_face" and f.views[0].bottom == pytest.approx(22.0))
    assert top.inside == [pocket.id] and top.id not in pocket.inside
    result = plan(document)
    ops = [op for s in result.setups for op in s.operations]
    first = next(k for k, op in enumerate(ops) if top.id in op.features)
    rough = next(k for k, op in enumerate(ops) if pocket.id in op.features)
    assert rough < first and result.proof.gouged == 0.0 and not result.unplanned


def test_of_a_slope_only_what_is_higher_counts(read):
    """A 45 degree flank starts at the flat's own rim: what is above the flat begins there and nowhere before."""
    part = plate(20).cut(
        cq.Workplane("XZ", origin=(0, 40, 0)).polyline([(0, 20), (0, 10), (50, 10), (50, 60)]).close().extrude(80)
    )
    for v in from_above(read(part), "planar_face"):
        assert v.narrowest_gap is None or v.narrowest_gap > 1.0 and math.isfinite(v.narrowest_gap)
