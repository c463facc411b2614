"""Example 1 of ISO 14649-11: its three features with the printed sizes, and its cutter, which does not fit the pocket.

Printed: planar_face; round_hole of 22, 30 deep; closed_pocket with orthogonal_radius 10 and, in one form, planar_radius 1
(ISO/FDIS 14649-10/-11 text of August 2001; sizes of the pocket by the coordinates of the worked file). The cutter is
an end mill of 20 with an edge radius of 1.5 (NIST's public-domain copy of the example, from memory).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from planner import plan
from recognizer import recognize
from shared.features import FeaturesDocument
from shared.plan import Job

WORKED = Path(__file__).resolve().parents[3] / "shared" / "benchmarks" / "worked"
PRINTED = """
[[tool]]
id = "printed"
kind = "bullnose_endmill"
DC = 20
RE = 1.5
APMX = 40
LU = 60
NOF = 4
"""


def example(form: str) -> FeaturesDocument:
    path = WORKED / f"iso14649_ex1_{form}.step"
    if not path.exists():
        pytest.skip("../shared/benchmarks/worked is not here")
    return recognize(path)


def top_features(document: FeaturesDocument) -> dict:
    """Features cut from +z: the other sides of the block are raw in the example."""
    return {f.kind: f for f in document.features if f.views[0].direction[2] > 0.5}


@pytest.mark.parametrize(("form", "floor"), [("R1", 1.0), ("flat", None)])
def test_three_features_with_the_printed_sizes(form: str, floor: float | None) -> None:
    found = top_features(example(form))
    assert sorted(found) == ["closed_pocket", "planar_face", "round_hole"]
    hole, pocket = found["round_hole"], found["closed_pocket"]
    assert hole.dimensions == pytest.approx({"diameter": 22.0, "depth": 30.0})
    assert pocket.dimensions["depth"] == pytest.approx(30.0)
    assert pocket.dimensions["corner_radius"] == pytest.approx(10.0)
    assert pocket.dimensions.get("floor_radius") == (pytest.approx(floor) if floor else None)
    assert (hole.bottom_condition, pocket.bottom_condition) == ("flat", "planar")


@pytest.mark.parametrize("form", ["R1", "flat"])
def test_printed_cutter_is_refused_for_its_edge_radius_and_its_diameter(form: str, tmp_path: Path) -> None:
    tools = tmp_path / "printed.toml"
    tools.write_text(PRINTED)
    document = example(form)
    pocket = top_features(document)["closed_pocket"].id
    result = plan(document, Job(tools=str(tools)))
    said = {f.code: f.message for f in result.findings if pocket in f.features and f.code.startswith("cutter_")}
    assert sorted(said) == ["cutter_diameter", "cutter_edge_radius"]
    assert "1.5 mm" in said["cutter_edge_radius"]
    assert "radius 10 mm is not smaller than the corner radius 10 mm" in said["cutter_diameter"]
    assert not [o for s in result.setups for o in s.operations if pocket in o.features]


def test_a_cutter_that_fits_both_raises_neither(tmp_path: Path) -> None:
    tools = tmp_path / "fits.toml"
    tools.write_text(PRINTED.replace("DC = 20", "DC = 16").replace("RE = 1.5", "RE = 1"))
    document = example("R1")
    pocket = top_features(document)["closed_pocket"].id
    result = plan(document, Job(tools=str(tools)))
    assert not [f for f in result.findings if f.code in ("cutter_diameter", "cutter_edge_radius")]
    assert [o for s in result.setups for o in s.operations if pocket in o.features]
