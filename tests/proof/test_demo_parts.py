"""Every demo part's plan cut in simulation: nothing gouged, nothing left that no finding names, nothing that meets."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from planner import plan
from planner.proof.prove import prove
from recognizer import recognize

PARTS = sorted((Path(__file__).resolve().parents[2] / "models").glob("*.step"))
FINE = 0.3
"""Mm: rays are 1.5 mm apart, which is narrow enough for the demo parts' faces; `sidewise plan` takes 0.1."""


@pytest.mark.parametrize("path", PARTS, ids=[p.stem for p in PARTS])
def test_a_demo_part_is_cut_as_drawn(path):
    features = recognize(path)
    document = plan(features, {"simulate": False})
    prove(document, features, features.shape, FINE)
    proof, simulated = document.proof, document.proof.simulation
    assert proof.gouges == [] and proof.gouged == 0.0
    assert [x for x in proof.left if x.named is None] == []
    assert [c for c in proof.collisions if not c.assumed] == []
    # What all operations take is stock less workpiece; and that is the part, with what is left, its edges broken.
    stock = math.prod(document.job.stock.size)
    assert simulated.removed == pytest.approx(stock - simulated.workpiece, rel=1e-3)
    loose = sum(
        float(f.message.split("stock, ")[1].split(" mm3")[0]) for f in document.findings if f.code == "comes_loose"
    )
    expected = simulated.part + proof.left_uncut - simulated.edges_broken + loose
    assert simulated.workpiece == pytest.approx(expected, abs=2e-3 * stock)
