"""Plans broken so that something meets: too short a stick-out, no way in, rapids too low, jaws in the way."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

from planner import plan
from planner.checker import check
from planner.proof.collisions import holder_of
from planner.proof.cutting import raw_workpiece
from planner.proof.plane import plane_of
from planner.proof.prove import prove
from planner.proof.standing import heights
from planner.proof.strokes.stroke import Stroke
from recognizer import recognize
from shared.plan import PlanDocument, Tool
from tests.proof.scenes import bare_scene

MODELS = Path(__file__).resolve().parents[2] / "models"
FINE = 0.3


@pytest.fixture(scope="module")
def carrier():
    return recognize(MODELS / "altitude_carrier.step")


@pytest.fixture(scope="module")
def good(carrier):
    return plan(carrier, {"simulate": False, "reach": False}).to_json()


def broken(carrier, good, change):
    """The plan after a change, cut in simulation; and codes of what the checker says of it."""
    document = PlanDocument.from_json(good)
    change(document)
    prove(document, carrier, carrier.shape, FINE)
    return document, {f.code for f in check(document, carrier)}


def operations(document):
    return [op for s in document.setups for op in s.operations]


def test_nothing_meets_in_the_plan_as_it_is(carrier, good):
    document, codes = broken(carrier, good, lambda d: None)
    assert document.proof.collisions == []
    assert not {c for c in codes if c.endswith("_collision")}


def test_a_stick_out_too_short_runs_the_holder_into_the_part(carrier, good):
    def shorten(document):
        op = next(op for op in operations(document) if op.name == "finish walls" and "closed_pocket" in op.features[0])
        short = {"LU": (op.levels.top - op.levels.bottom) - 15.0, "holder": ((op.tool.DC + 20.0, 40.0),)}
        op.tool = op.tool.model_copy(update=short)

    document, codes = broken(carrier, good, shorten)
    found = [c for c in document.proof.collisions if c.kind == "holder"]
    # The holder stands 15 mm below the pocket's edge, and goes on past the break-through of 1 mm.
    assert found and max(c.amount for c in found) == pytest.approx(16.0, abs=0.2)
    assert not found[0].assumed and "holder_collision" in codes


def test_a_finish_before_its_roughing_has_no_way_in(carrier, good):
    def swap(document):
        for setup in document.setups:
            names = [op.name for op in setup.operations]
            if "finish walls" in names and any("closed pocket" in n for n in names):
                op = next(op for op in setup.operations if op.name == "finish walls" and "closed" in op.features[0])
                setup.operations.remove(op)
                op.levels.top -= 10.0
                setup.operations.insert(1, op)
                return

    document, codes = broken(carrier, good, swap)
    assert "entry_collision" in codes
    assert max(c.amount for c in document.proof.collisions if c.kind == "entry") == pytest.approx(10.0, abs=0.2)


def test_a_drill_sent_below_the_surface_in_rapids_is_caught(carrier, good):
    def lower(document):
        op = next(op for op in operations(document) if op.name == "drill")
        op.levels.top -= 8.0

    assert "rapid_collision" in broken(carrier, good, lower)[1]


def test_a_clearance_plane_inside_the_block_is_caught(carrier, good):
    def lower(document):
        document.setups[0].clearance -= 12.0

    document, codes = broken(carrier, good, lower)
    found = [c for c in document.proof.collisions if c.kind == "rapid"]
    # It was 10 mm over the block.
    assert found and found[0].amount == pytest.approx(2.0, abs=0.06) and found[0].operation is None
    assert "rapid_collision" in codes


def test_jaws_as_high_as_what_is_cut_over_them_are_met(carrier, good):
    def raise_jaws(document):
        from_above = next(s for s in document.setups if s.direction[2] > 0.99)  # the part is 50 mm high there
        next(c for c in document.clampings if c.id == from_above.clamping).grip_height = 51.0

    document, codes = broken(carrier, good, raise_jaws)
    assert any(c.kind == "jaws" for c in document.proof.collisions)
    assert "jaws_collision" in codes


def test_a_nut_that_is_only_assumed_is_a_warning():
    stack, assumed = holder_of(Tool(id="e", kind="endmill", DC=10.0, LU=30.0))
    assert assumed and stack == [(28.0, 30.0)]
    assert holder_of(Tool(id="e", kind="endmill", DC=10.0)) == ([], False)
    own = Tool(id="e", kind="endmill", DC=10.0, LU=30.0, holder=[(20.0, 5.0), (40.0, 30.0)])
    assert holder_of(own) == ([(20.0, 30.0), (40.0, 35.0)], False)


@pytest.mark.parametrize("direction", [(0, 0, 1), (0, 0, -1), (1, 0, 0), (0.6, 0.0, 0.8)])
def test_heights_over_a_block_are_its_own(direction):
    piece = raw_workpiece(bare_scene((60.0, 50.0, 30.0)), 0.2)
    plane = plane_of(np.array(direction, dtype=float))
    top = max(float(np.array(c) @ plane.d) for c in np.ndindex(2, 2, 2) for c in [np.array(c) * [60.0, 50.0, 30.0]])
    place = heights(piece, plane).above(shapely.Point(plane.flat(np.array([30.0, 25.0, 15.0]))), 80.0, top - 5.0)
    assert place is not None and place.over == pytest.approx(5.0, abs=0.5)
    assert heights(piece, plane).above(shapely.Point(0, 0), 200.0, top) is None


def test_a_stroke_stands_where_its_centres_are_unless_it_says_more():
    where = shapely.box(0, 0, 1, 1)
    assert Stroke(centres=where, tip=2.0).stands == [(where, 2.0)]
    assert Stroke(centres=where, tip=2.0, stations=[(where, 5.0)]).stands == [(where, 5.0)]


def test_an_assumed_nut_over_a_jaw_only_warns(carrier, good):
    def deepen(document):
        document.clampings[0].grip_height = 45.0

    document, codes = broken(carrier, good, deepen)
    found = [c for c in document.proof.collisions if c.kind == "jaws"]
    assert all(c.assumed == ("assumed" in c.message) for c in found)
    assert ("jaws_collision" in codes) == any(not c.assumed for c in found)
