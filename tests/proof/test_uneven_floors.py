"""Floors at several levels, leaning walls with leaning corners, leaning bosses, and blind holes to a tolerance.

Parts are drawn here, so where material must stay or go is known from the drawing. Published sources: none; that a deep
part is cut after the floor above it, and that a reamer needs its stock left all the way down, is common practice.
"""

from __future__ import annotations

import cadquery as cq
import pytest

from planner import plan
from recognizer import recognize

ALONE = {"stock": 1.0, "reach": False}


def block(x, y, z):
    return cq.Workplane("XY").box(x, y, z, centered=(True, True, False))


def planned(tmp_path, part, **job):
    cq.exporters.export(part, str(tmp_path / "part.step"))
    features = recognize(tmp_path / "part.step")
    return features, plan(features, {**ALONE, **job})


def cuts(result, word):
    return [op for s in result.setups for op in s.operations if any(word in f for f in op.features)]


def rounded(x, y, z, radius=5.0):
    return block(x, y, z).edges("|Z").fillet(radius)


@pytest.fixture
def stepped_pocket():
    """A pocket of 36 x 24 whose right half is 5 mm deeper."""
    part = block(44, 32, 20).cut(rounded(36, 24, 8).translate((0, 0, 12)))
    return part.cut(rounded(18, 24, 5).translate((9, 0, 7)))


def test_a_deeper_half_is_roughed_to_its_own_level_and_the_shallow_half_stays(tmp_path, stepped_pocket):
    _, result = planned(tmp_path, stepped_pocket)
    assert result.unplanned == [] and result.proof.gouged == 0.0
    assert result.proof.left_uncut < 1.0  # mm3: chords of the outline's arcs
    rough = [op.levels.bottom for op in cuts(result, "pocket") if op.name == "rough closed pocket"]
    assert rough == [pytest.approx(12.2), pytest.approx(7.2)], "0.2 mm for the finish of either floor"
    names = [op.name for op in cuts(result, "pocket")]
    assert names[:2] == ["rough closed pocket"] * 2, "both are roughed before either is finished"


def test_a_rib_lower_than_its_pocket_stays(tmp_path):
    part = block(44, 32, 20).cut(rounded(36, 24, 14).translate((0, 0, 6))).union(block(4, 24, 8).translate((0, 0, 6)))
    _, result = planned(tmp_path, part)
    assert result.unplanned == [] and result.proof.gouged == 0.0
    assert {x.named for x in result.proof.left} == {"sharp_corner"}, "the rib's foot meets the walls sharply"
    assert "sharp_corner" in {f.code for f in result.findings}
    assert result.proof.checker == []


def test_a_floor_that_leans_below_a_flat_one_is_followed(tmp_path):
    """The left half lies at 14, the right one falls to 11 along 18 mm."""
    ramp = cq.Workplane("XZ").polyline([(0, 14), (18, 14), (18, 11)]).close().extrude(12, both=True)
    part = block(44, 32, 20).cut(rounded(36, 24, 6).translate((0, 0, 14))).cut(ramp.intersect(rounded(36, 24, 20)))
    _, result = planned(tmp_path, part)
    assert result.unplanned == [] and result.proof.gouged == 0.0
    flat = next(op for op in cuts(result, "pocket") if op.name == "rough closed pocket")
    assert flat.levels.bottom == pytest.approx(14.2)
    assert {x.named for x in result.proof.left} <= {"corner_left"}, "what the ball leaves at the foot is said"
    assert result.proof.checker == []


def test_leaning_walls_that_meet_in_leaning_radii_are_cut_from_above(tmp_path):
    pocket = cq.Workplane("XY").rect(24, 18).extrude(-9, taper=5).translate((0, 0, 20))
    pocket = pocket.edges("not(#Z)").fillet(5).faces("<Z").edges().fillet(3)
    _, result = planned(tmp_path, block(34, 28, 20).cut(pocket))
    assert result.unplanned == [] and result.proof.gouged == 0.0 and result.proof.left_uncut == 0.0
    assert [s.direction for s in result.setups if any("pocket" in f for op in s.operations for f in op.features)] == [
        (0.0, 0.0, 1.0)
    ]
    walls = next(op for op in cuts(result, "pocket") if op.name == "finish leaning walls")
    assert walls.tool.kind == "ball_endmill" and walls.tool.DC < 2.0 * 3.0, (
        "it rolls through the floor's radius of 3 mm"
    )


def test_a_leaning_boss_keeps_its_shape(tmp_path):
    boss = cq.Workplane("XY").circle(6).extrude(4, taper=5).translate((0, 0, 8))
    _, result = planned(tmp_path, block(24, 20, 8).union(boss))
    assert result.unplanned == [] and result.proof.gouged == 0.0
    assert any(op.name == "finish surface" for op in cuts(result, "boss"))


def test_a_blind_flat_hole_keeps_the_reamers_stock_down_to_its_lead(tmp_path):
    part = block(24, 24, 24).faces(">Z").workplane().hole(8, 14)
    (tmp_path / "notes.toml").write_text('[[tolerance]]\ndiameter = 8\ngrade = "H7"\n', encoding="utf-8")
    _, result = planned(tmp_path, part, notes=str(tmp_path / "notes.toml"))
    floor = next(op for op in cuts(result, "hole") if op.name == "finish floor")
    ream = next(op for op in cuts(result, "hole") if op.name == "ream")
    assert floor.passes.allowance_side == pytest.approx(0.1), "drilled 7.8 for 8 mm"
    # pi / 4 (8^2 - 7.8^2) mm2 from the spot's cone, 4 mm deep at most, to the lead of 1.2 mm over the floor.
    assert ream.removed == pytest.approx(2.482 * (14.0 - 1.2), rel=0.35)
    assert "removes_nothing" not in {f.code for f in result.findings}
    assert {x.named for x in result.proof.left} <= {"reamer_lead"} and result.proof.checker == []
