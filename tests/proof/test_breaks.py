"""Broken edges are taken off as bevels, are no gouges, and are said in the figures."""

from __future__ import annotations

import cadquery as cq
import pytest

from planner import plan
from planner.proof.prove import prove
from recognizer import recognize


@pytest.fixture(scope="module")
def proved(tmp_path_factory):
    path = tmp_path_factory.mktemp("breaks") / "part.step"
    part = cq.Workplane().box(60, 40, 20).faces(">Z").workplane().rect(40, 24).cutBlind(-8).edges("|Z").fillet(5)
    cq.exporters.export(part, str(path))
    features = recognize(path)
    document = plan(features, {"simulate": False})
    prove(document, features, features.shape, 0.05)
    return features, document


def breaks(document):
    return [op for s in document.setups for op in s.operations if op.edges and not op.features]


def test_a_broken_edge_takes_its_bevel(proved):
    # Plane geometry: a 45 degree bevel of width w takes w^2 / 2 along a square edge.
    features, document = proved
    lengths = {e.index: e.length for e in features.edges}
    wanted = sum(lengths[i] * op.passes.axial_depth**2 / 2.0 for op in breaks(document) for i in op.edges)
    assert wanted > 0.0
    assert document.proof.simulation.edges_broken == pytest.approx(wanted, rel=0.1)
    assert not {op.id for op in breaks(document)} & set(document.proof.simulation.not_cut)


def test_broken_edges_are_wanted_and_counted(proved):
    _, document = proved
    simulated, proof = document.proof.simulation, document.proof
    assert proof.gouged == 0.0
    # What is left on the part and what is taken off its edges explain the workpiece.
    assert simulated.workpiece == pytest.approx(simulated.part - simulated.edges_broken, abs=2e-4 * simulated.part)


def test_a_tap_says_that_threads_are_cosmetic(tmp_path):
    path = tmp_path / "part.step"
    cq.exporters.export(cq.Workplane().box(40, 30, 15).faces(">Z").workplane().hole(8.5), str(path))
    features = recognize(path)
    document = plan(features, {"threads": {"8.5": "M10"}, "simulate": False})
    taps = [op.id for s in document.setups for op in s.operations if op.kind == "tapping"]
    prove(document, features, features.shape, 0.2)
    assert taps and all("cosmetic" in document.proof.simulation.not_cut[name] for name in taps)
    assert document.proof.gouged == 0.0
