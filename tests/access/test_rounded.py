"""Ball and bull cutters, and holders, against closed forms and against the cutter's surface point by point."""

from __future__ import annotations

from math import asin, cos, pi, radians, sin, sqrt

import cadquery as cq
import numpy as np
import pytest

from recognizer.access.obstacles import Nodes
from recognizer.access.rounded import stands
from shared.plan import Tool
from shared.reach import ReachLimits
from tests.access.parts import flat, reach_of, share, shop, view

UP = (0.0, 0.0, 1.0)
LOOSE = ReachLimits(fail=1e6)


def ball(diameter: float) -> Tool:
    return Tool(
        id=f"B{diameter:g}",
        kind="ball_endmill",
        DC=diameter,
        RE=diameter / 2,
        LU=1000,
        APMX=1000,
        holder=[(diameter, 500)],
    )


def bull(diameter: float, radius: float) -> Tool:
    made = {"id": f"D{diameter:g}R{radius:g}", "kind": "bullnose_endmill", "holder": [(diameter, 500)]}
    return Tool(DC=diameter, RE=radius, LU=1000, APMX=1000, **made)


@pytest.mark.parametrize("lean", [5.0, 30.0, 45.0, 60.0, 90.0])
@pytest.mark.parametrize(("diameter", "radius"), [(10.0, 5.0), (10.0, 1.0), (16.0, 3.0), (12.0, 0.0)])
def test_a_cutter_on_a_tilted_plane_touches_it_in_one_place(lean: float, diameter: float, radius: float) -> None:
    """The cutter's lower surface, point by point, lies on the free side of the plane and meets it at the point asked for.

    Geometry; the axis R - E + E sin a beside the point and the tip E (1 - cos a) below it is what is checked.
    """
    tool = Tool(id="t", kind="bullnose_endmill", DC=diameter, RE=radius)
    normal = np.array([sin(radians(lean)), 0.0, cos(radians(lean))])
    point = np.array([3.0, -2.0, 7.0])
    node = Nodes(point[None, :2], np.array([[1.0, 0.0]]), point[2:], np.zeros(1))
    axis, tip = stands(node, np.array([cos(radians(lean))]), tool)
    turn, swing = np.meshgrid(np.linspace(0, 2 * pi, 361), np.linspace(0, pi / 2, 181))
    wide = diameter / 2 - radius + radius * np.sin(swing)
    surface = np.stack(
        [axis[0, 0] + wide * np.cos(turn), axis[0, 1] + wide * np.sin(turn), tip[0] + radius * (1 - np.cos(swing))],
        axis=-1,
    )
    off = (surface - point) @ normal
    assert off.min() == pytest.approx(0.0, abs=1e-9)
    nearest = surface.reshape(-1, 3)[np.argmin(off)]
    assert np.linalg.norm(nearest - point) < 0.02 * diameter


def vee(depth: float = 10.0) -> cq.Workplane:
    cut = cq.Workplane("XZ").polyline([(0, -depth), (depth, 0), (depth, 1), (-depth, 1), (-depth, 0)]).close()
    return cq.Workplane().box(60, 100, 40).translate((0, 0, -20)).cut(cut.extrude(60, both=True))


@pytest.mark.parametrize("radius", [2.0, 4.0])
def test_a_vee_groove_of_90_degrees(radius: float) -> None:
    """A flat cutter goes down until it is as wide as the groove, R above its foot; a ball touches down to R / sqrt 2."""
    document = reach_of(vee(), shop(flat(2 * radius), ball(2 * radius)), directions=[UP], limits=LOOSE)
    flanks = [f for f in document.faces if abs(f.area - 100 * 10 * sqrt(2)) < 1e-3]
    assert len(flanks) == 2
    for flank in flanks:
        v = view(flank, document, UP)
        assert share(v, f"D{2 * radius:g}") == pytest.approx(1 - radius / 10, abs=0.06)
        # Ten rows over the flank: a share is off by one at most.
        assert share(v, f"B{2 * radius:g}") == pytest.approx(1 - radius / sqrt(2) / 10, abs=0.1)
        assert share(v, f"B{2 * radius:g}") > share(v, f"D{2 * radius:g}")
        assert v is not None and v.touched >= share(v, f"B{2 * radius:g}") - 1e-9


def test_a_bowl_is_touched_whole_by_a_smaller_ball_and_hardly_by_a_larger_one() -> None:
    part = cq.Workplane().box(60, 60, 40).cut(cq.Workplane().sphere(15).translate((0, 0, 20)))
    document = reach_of(part, shop(flat(12), ball(12), ball(40)), directions=[UP], limits=LOOSE)
    (bowl,) = [f for f in document.faces if f.surface == "sphere"]
    v = view(bowl, document, UP)
    assert share(v, "B12") == pytest.approx(1.0, abs=0.02)
    assert share(v, "B40") < 0.1
    assert share(v, "D12") < 0.95 and bowl.touched == pytest.approx(1.0, abs=0.02)


def step(height: float = 20.0) -> cq.Workplane:
    """A block of 80 x 60 with a floor 50 wide, level 0, beside a wall of this height."""
    return cq.Workplane().box(80, 60, 60).translate((0, 0, height - 30)).cut(
        cq.Workplane().box(50, 60, 2 * height).translate((15, 0, height))
    )  # fmt: skip


@pytest.mark.parametrize("radius", [1.0, 3.0, 5.0])
def test_an_edge_radius_stays_at_the_foot_of_a_wall(radius: float) -> None:
    """RE of the wall and RE of the floor are left: the cutter's own round (geometry)."""
    document = reach_of(step(), shop(flat(10), bull(10, radius)), directions=[UP], limits=LOOSE)
    wall = next(f for f in document.faces if abs(f.area - 60 * 20) < 1e-6)
    floor = next(f for f in document.faces if abs(f.area - 60 * 50) < 1e-6)
    name = f"D10R{radius:g}"
    assert share(view(floor, document, UP), name) == pytest.approx(1 - radius / 50, abs=2e-3)
    assert share(view(floor, document, UP), "D10") == pytest.approx(1.0, abs=1e-6)
    assert share(view(wall, document, UP), name) == pytest.approx(1 - radius / 20, abs=0.06)


def test_a_stack_of_holders_keeps_off_a_high_wall_cylinder_by_cylinder() -> None:
    """LU 20, then 20 mm wide for 10, then 40 mm wide: beside a wall 35 high the cutter of 10 mm cannot go to the floor within
    20 - 5 mm of the wall (its second cylinder begins 30 above the tip, below the wall's top), and cuts the wall down to 15
    above the floor, where the first cylinder meets its top. Geometry.
    """
    tool = Tool(id="stack", kind="endmill", DC=10, LU=20, APMX=20, holder=[(20, 10), (40, 100)])
    slim = Tool(id="slim", kind="endmill", DC=10, LU=20, APMX=20, holder=[(20, 16), (40, 100)])
    document = reach_of(step(35.0), shop(tool, slim, flat(10)), directions=[UP], limits=LOOSE)
    wall = next(f for f in document.faces if abs(f.area - 60 * 35) < 1e-6)
    floor = next(f for f in document.faces if abs(f.area - 60 * 50) < 1e-6)
    assert share(view(floor, document, UP), "stack") == pytest.approx(1 - 15 / 50, abs=2e-3)
    assert share(view(floor, document, UP), "slim") == pytest.approx(1 - 5 / 50, abs=2e-3), (
        "only the first is in the way"
    )
    assert share(view(wall, document, UP), "stack") == pytest.approx(20 / 35, abs=0.01)
    assert share(view(wall, document, UP), "D10") == pytest.approx(1.0)


def test_the_stick_out_of_a_wall_goes_down_to_its_foot() -> None:
    document = reach_of(step(35.0), shop(flat(10)), directions=[UP])
    wall = next(f for f in document.faces if abs(f.area - 60 * 35) < 1e-6)
    v = view(wall, document, UP)
    assert v is not None and v.stick_out == pytest.approx(35.0, abs=0.01)


def test_a_ball_in_a_round_groove() -> None:
    """A groove of radius 6: a ball of 6 fits exactly, one of 7 touches only its rims."""
    part = cq.Workplane().box(60, 40, 30).translate((0, 0, -15)).cut(
        cq.Workplane("XZ").circle(6).extrude(40, both=True)
    )  # fmt: skip
    document = reach_of(part, shop(flat(4), ball(12), ball(14)), directions=[UP], limits=LOOSE)
    views = [view(f, document, UP) for f in document.faces if f.surface == "cylinder"]
    assert views
    for v in views:
        assert share(v, "B12") == pytest.approx(1.0, abs=0.05)
        assert share(v, "B14") < 0.2
        # The flat one touches down to where the groove is as wide as it: 2 = 6 sin a from straight down.
        assert share(v, "D4") == pytest.approx(1 - 2 * asin(2 / 6) / pi, abs=0.06)


@pytest.mark.parametrize("radius", [1.5, 2.0, 2.7, 3.3, 4.0, 4.6])
def test_shares_of_leaning_faces_are_off_by_no_more_than_the_document_says(radius: float) -> None:
    """The vee groove and a hemispherical bowl of radius 15 against their closed forms, by the error told for each face."""
    document = reach_of(vee(), shop(flat(2 * radius), ball(2 * radius)), directions=[UP], limits=LOOSE)
    for f in (f for f in document.faces if abs(f.area - 100 * 10 * sqrt(2)) < 1e-3):
        v = view(f, document, UP)
        assert 0 < f.share_error <= 0.12
        assert abs(share(v, f"D{2 * radius:g}") - (1 - radius / 10)) <= f.share_error
        assert abs(share(v, f"B{2 * radius:g}") - (1 - radius / sqrt(2) / 10)) <= f.share_error
    part = cq.Workplane().box(60, 60, 40).cut(cq.Workplane().sphere(15).translate((0, 0, 20)))
    document = reach_of(part, shop(flat(4 * radius)), directions=[UP], limits=LOOSE)
    (bowl,) = [f for f in document.faces if f.surface == "sphere"]
    truth = sqrt(15**2 - (2 * radius) ** 2) / 15
    assert abs(share(view(bowl, document, UP), f"D{4 * radius:g}") - truth) <= bowl.share_error <= 0.12


RADIUSED = [
    pytest.param({"kind": "bullnose_endmill"}, id="bull nose"),
    pytest.param({"kind": "endmill"}, id="end mill with a corner radius"),
]


@pytest.mark.parametrize("kind", RADIUSED)
def test_a_shop_of_radiused_mills_leaves_their_radius_at_the_foot(kind: dict[str, str]) -> None:
    """A pocket 40 x 30 x 10, corners 8: an edge radius of 1 keeps off the lowest 1 mm of its walls, 1/10, and a ring 1 mm wide
    of its floor: (38 * 28 - (4 - pi) 7^2) / (40 * 30 - (4 - pi) 8^2) is touched. Plane geometry, no source.
    """
    cut = cq.Workplane().box(40, 30, 20).edges("|Z").fillet(8).translate((0, 0, 15))
    document = reach_of(cq.Workplane().box(80, 60, 30).cut(cut), shop(flat(10, 40.0, RE=1, **kind)), directions=[UP])
    walls = [f for f in document.faces if f.views and f.views[0].lies == "wall" and f.touched < 1]
    assert len(walls) == 8 and all(f.touched == pytest.approx(0.9, abs=1e-6) for f in walls)
    floor = next(f for f in document.faces if f.views and f.views[0].lies == "floor" and f.touched < 1)
    ring = (38 * 28 - (4 - pi) * 49) / (40 * 30 - (4 - pi) * 64)
    assert floor.touched == pytest.approx(ring, abs=2e-3)
    for face in [*walls, floor]:
        assert [b.reason for b in face.views[0].blockers] == ["floor_radius_too_small"]


def test_a_radius_at_the_floor_lets_radiused_mills_reach_all() -> None:
    """The same pocket with a radius of 1 between walls and floor, drawn for that cutter; one of 2 does not do."""
    cut = cq.Workplane().box(40, 30, 20).edges("|Z").fillet(8).faces("<Z").edges().fillet(1).translate((0, 0, 15))
    part = cq.Workplane().box(80, 60, 30).cut(cut)
    fits = reach_of(part, shop(flat(10, 40.0, RE=1, kind="bullnose_endmill")), directions=[UP])
    bad = [f for f in fits.faces if f.verdict == "not_reached" and f.views]
    assert not bad, [(f.index, f.surface, f.touched, f.reasons) for f in bad]
    wide = reach_of(part, shop(flat(10, 40.0, RE=2, kind="bullnose_endmill")), directions=[UP])
    assert any(b.reason == "floor_radius_too_small" for f in wide.faces for v in f.views for b in v.blockers)
