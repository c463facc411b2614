"""Ties that the class table breaks by geometry. Truth by construction: the second cut is begun at the first one's edge."""

from pathlib import Path

import cadquery as cq
import pytest

from recognizer import recognize
from tests.benchmarks.classes import segments


def classes(part: cq.Workplane, folder: Path) -> list[str]:
    path = folder / "part.step"
    cq.exporters.export(part, str(path))
    return sorted(s["class"] for s in segments(recognize(path)) if s["class"] != "stock")


def rounded_step() -> cq.Workplane:
    """A block with a quarter cylinder of radius 10 off its upper edge: it meets the side at z = 20, running level."""
    edge = cq.Workplane("XZ").circle(10).extrude(-40).translate((0, 0, 30))
    return cq.Workplane().box(60, 40, 30, centered=False).cut(edge)


@pytest.mark.parametrize(("top", "name"), [(20.0, "rectangular_through_slot"), (17.0, "rectangular_passage")])
def test_a_wall_that_runs_out_to_a_knife_edge_shuts_the_mouth_of_a_slot(tmp_path: Path, top: float, name: str):
    slot = cq.Workplane().box(60, 8, 6, centered=False).translate((0, 16, top - 6))
    assert name in classes(rounded_step().cut(slot), tmp_path)


@pytest.mark.parametrize(("length", "name"), [(30.0, "rectangular_blind_slot"), (60.0, "rectangular_through_slot")])
def test_a_slot_that_does_not_go_on_beyond_a_passage_ended_in_it(tmp_path: Path, length: float, name: str):
    block = cq.Workplane().box(60, 40, 30, centered=False)
    slot = cq.Workplane().box(length, 6, 8, centered=False).translate((0, 17, 22))
    passage = cq.Workplane().box(14, 14, 30, centered=False).translate((25, 13, 0))
    assert name in classes(block.cut(slot).cut(passage), tmp_path)
