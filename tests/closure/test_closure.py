"""Closure of whole files, and what is said where it does not close."""

from __future__ import annotations

from pathlib import Path

import cadquery as cq
import pytest

from recognizer import closure, recognize
from recognizer.closure import closure_of
from recognizer.families import FAMILIES
from recognizer.frame import frame_of
from recognizer.graph import PartGraph
from recognizer.kernel.snapshot import snapshot_of
from recognizer.rule import Context
from shared.tolerances import DEFAULT
from tests.closure.parts import document_of, named

ROOT = Path(__file__).resolve().parents[2]
WORKED = ROOT.parent / "shared" / "benchmarks" / "worked"
MODELS = sorted((ROOT / "models").glob("*.step"))
OPEN = {
    "balance_weight": "a sealed void of 1600 mm3: named by volume_sealed",
}


@pytest.mark.parametrize(
    "name, part, share",
    [("iso14649_ex1_flat", 471_171.24, 1e-6), ("iso14649_ex1_R1", 471_223.05, 1e-4)],
)
def test_example_1_of_iso_14649_11_closes(name, part, share):
    """Workpiece 120 x 100 x 50 with planar face, pocket and hole: figures of ISO 14649-11 annex, volumes by arithmetic."""
    path = WORKED / f"{name}.step"
    if not path.exists():
        pytest.skip("../shared/benchmarks/worked is not here")
    c = recognize(path).closure
    assert c.part_volume == pytest.approx(part, abs=0.02)
    assert c.stock_volume - c.part_volume == pytest.approx(c.removed, rel=share)
    assert c.unexplained <= share * c.removed


@pytest.mark.parametrize("path", MODELS, ids=[p.stem for p in MODELS])
def test_demo_part_closes_or_says_why(path):
    document = recognize(path)
    c = document.closure
    said = [f for f in document.findings if f.code.startswith("volume_")]
    assert c.removed == pytest.approx(sum(f.removal_volume for f in document.features))
    if path.stem in OPEN:
        assert said, OPEN[path.stem]
        return
    assert c.unexplained <= 1e-3 * c.removed
    assert not said


def _context(work) -> Context:
    snapshot = snapshot_of(work.val().wrapped)
    ctx = Context(snapshot, PartGraph(snapshot, DEFAULT), frame_of(snapshot, DEFAULT), DEFAULT)
    for family in FAMILIES:
        ctx.claims += family(ctx)
    return ctx


def _slotted() -> cq.Workplane:
    return (
        cq.Workplane()
        .box(80, 60, 30, centered=False)
        .cut(cq.Workplane().box(80, 10, 10, centered=False).translate((0, 25, 20)))
    )


def test_missing_feature_is_named_with_volume_and_place():
    """A slot that nobody claims: 8000 mm3 between y 25 and 35, z 20 and 30."""
    work = _slotted().faces("<Z").workplane(centerOption="CenterOfBoundBox").hole(4)
    document = document_of(work)
    kept = [f for f in document.features if f.kind != "slot"]
    c, volumes, findings = closure_of(_context(work), kept)
    assert c.unexplained == pytest.approx(10 * 10 * 80, rel=0.02)
    assert set(volumes) == {f.id for f in kept}
    (found,) = [f for f in findings if f.code == "volume_unexplained"]
    place = found.message.split("between (")[1].split(")")[0].split(", ")
    assert float(place[1]) == pytest.approx(25, abs=0.5) and float(place[2]) == pytest.approx(20, abs=0.5)


@pytest.mark.parametrize("tip", [0.0, 10.0], ids=["flat bottom", "cone whose radius is 0 where it is placed"])
def test_body_that_would_cut_the_part_is_named(tip):
    """A hole said to be 20 mm deeper than it is."""
    work = (
        cq.Workplane()
        .box(80, 60, 50, centered=False)
        .faces(">Z")
        .workplane(centerOption="CenterOfBoundBox")
        .hole(20, 25)
    )
    if tip:
        work = work.cut(cq.Workplane(cq.Solid.makeCone(0, 10, tip, pnt=(40, 30, 25 - tip))))
    document = document_of(work)
    hole = named(document, "round_hole")[0]
    deeper = hole.model_copy(update={"steps": [s.model_copy(update={"bottom": s.bottom - 20}) for s in hole.steps]})
    features = [deeper if f is hole else f for f in document.features]
    c, _, findings = closure_of(_context(work), features)
    (found,) = [f for f in findings if f.code == "volume_over_removed"]
    assert found.features == [hole.id]
    assert c.unexplained == pytest.approx(3.14159 * 100 * (20 - tip / 3), rel=0.07)


def test_a_missing_and_an_equal_wrong_volume_do_not_cancel():
    """Two equal holes, one not claimed and one said to be twice as deep: the sum closes, the part does not."""
    work = (
        cq.Workplane()
        .box(80, 60, 50, centered=False)
        .faces(">Z")
        .workplane(centerOption="CenterOfBoundBox")
        .pushPoints([(-20, 0), (20, 0)])
        .hole(20, 20)
    )
    document = document_of(work)
    first, second = named(document, "round_hole")
    deeper = first.model_copy(update={"steps": [s.model_copy(update={"bottom": s.bottom - 20}) for s in first.steps]})
    features = [deeper if f is first else f for f in document.features if f is not second]
    c, _, findings = closure_of(_context(work), features)
    assert c.stock_volume - c.part_volume == pytest.approx(c.removed, rel=1e-6)
    assert c.unexplained == pytest.approx(2 * 3.14159 * 100 * 20, rel=0.1)
    assert {f.code for f in findings} == {"volume_unexplained", "volume_over_removed"}


def test_the_same_part_gives_the_same_figures():
    path = MODELS[0]
    assert recognize(path).closure.model_dump_json() == recognize(path).closure.model_dump_json()


def test_method_says_how_overlaps_count():
    assert "cut first" in closure.METHOD and "error" in closure.METHOD
