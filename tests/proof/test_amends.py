"""A plan that cuts into the part is made again: smaller cutters, another side, or the feature left out with its reason.

Parts are made here; what fits is arithmetic on their own sizes.
"""

from __future__ import annotations

import cadquery as cq
import pytest

from planner import plan
from planner.amends import LEAST_GOUGE, Limit, Limits
from recognizer import recognize
from shared.cutters import default_cutters

UP = (0.0, 0.0, 1.0)
ROOM = 12.0
"""Mm between the island and the walls round it."""


def island():
    """A pocket of 64 x 44 mm, 12 deep, with an island that stays 5 mm below the walls' top."""
    block = cq.Workplane("XY").box(100, 70, 30, centered=(True, True, False))
    block = block.cut(cq.Workplane("XY").workplane(offset=18).rect(64, 44).extrude(12).edges("|Z").fillet(6))
    return block.union(cq.Workplane("XY").workplane(offset=18).circle(22 - ROOM).extrude(7))


@pytest.fixture(scope="module")
def document(tmp_path_factory):
    path = tmp_path_factory.mktemp("parts") / "island.step"
    cq.exporters.export(island(), str(path))
    return recognize(path)


def without_room(document):
    """The document of a recognizer that does not measure what stands beside a flat face."""
    blind = [
        f.model_copy(update={"views": [v.model_copy(update={"narrowest_gap": None}) for v in f.views]})
        if f.kind == "planar_face"
        else f
        for f in document.features
    ]
    out = document.model_copy(update={"features": blind})
    out._shape = document._shape
    return out


def test_an_island_between_walls_is_faced_within_its_room(document):
    result = plan(document)
    assert result.proof.gouged == 0.0
    assert not any(f.code == "refused_by_simulation" for f in result.findings)


def test_where_the_room_is_not_known_the_simulation_finds_it(document):
    result = plan(without_room(document))
    assert result.proof.gouged == 0.0
    assert not [f for f in result.proof.checker if f.severity == "error"]
    faced = [op for s in result.setups for op in s.operations if op.levels.bottom == pytest.approx(25.0)]
    assert faced, "the island's top is cut"
    for op in faced:
        assert op.tool.DC <= 20 + 2 * ROOM, "wider than the pocket is round the island"
    assert any("after the simulation" in b for s in result.setups for op in s.operations for b in op.because)
    assert any(f.code == "refused_by_simulation" for f in result.findings)


def test_without_simulation_no_plan_is_made_again(document):
    result = plan(document, {"simulate": False})
    assert not any(f.code == "refused_by_simulation" for f in result.findings)


def test_the_same_part_gives_the_same_amended_plan(document):
    assert plan(document).to_json() == plan(document).to_json()


def test_limits_take_cutters_away_from_one_feature_and_side_only():
    table = default_cutters()
    limits = Limits(((("pocket", UP), Limit(("endmill",), 8.0, "too large")),))
    kept = limits.table(["pocket"], UP, table)
    assert max(t.DC for t in kept.of("endmill")) < 8.0
    assert kept.of("twist_drill") == table.of("twist_drill")
    assert limits.table(["pocket"], (0.0, 0.0, -1.0), table) is table
    assert limits.table(["other"], UP, table) is table


def test_of_several_limits_the_narrowest_is_said():
    wide, narrow = Limit(("endmill",), 8.0, "a"), Limit(("endmill",), 5.0, "b")
    limits = Limits(((("pocket", UP), narrow), (("pocket", UP), wide)))
    assert limits.at("pocket", UP) == [narrow]
    assert [f.message for f in limits.findings()] == ["pocket: b"]


def test_a_crumb_is_no_reason_to_plan_again():
    assert 0.0 < LEAST_GOUGE < 1.0
