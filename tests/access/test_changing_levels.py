"""Faces whose surroundings change all the way up, bores at an angle, and what is seen only through a mouth: closed forms."""

from __future__ import annotations

from math import acos, pi, radians, sqrt, tan

import cadquery as cq
import pytest

from shared.reach import FaceReach, ReachDocument
from tests.access.parts import flat, reach_of, share, shop, view

UP, ALONG_X = (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)


def _block(x: float, y: float, z: float) -> cq.Workplane:
    return cq.Workplane().box(x, y, z, centered=False)


def _only(document: ReachDocument, surface: str, area: float) -> FaceReach:
    (found,) = [f for f in document.faces if f.surface == surface and f.area == pytest.approx(area, rel=1e-3)]
    return found


def test_a_bore_at_an_angle_has_its_true_size() -> None:
    """Its rim on the leaning top is no circle: the chords of its picture are no obstacles inside the bore."""
    d = (0.5, 0.0, sqrt(0.75))
    bore = cq.Workplane(cq.Plane(origin=(30, 20, 40), normal=d)).circle(4).extrude(-80, both=True)
    document = reach_of(_block(60, 40, 40).cut(bore), shop(flat(8), flat(10)), directions=[d])
    (wall,) = [f for f in document.faces if f.surface == "cylinder"]
    v = view(wall, document, d)
    assert v is not None and v.fits == pytest.approx(8.0, abs=1e-3)
    assert share(v, "D8") == pytest.approx(1.0) and share(v, "D10") == 0.0


def test_an_upright_wall_is_touched_down_to_where_the_gap_is_wide_enough() -> None:
    """A slot 8 deep whose other side leans: 2 wide at its foot, 10 at its mouth. A disc of 4 fits from 2 above the foot up."""
    slot = cq.Workplane("YZ").polyline([(10, 12), (12, 12), (20, 20), (10, 20)]).close().extrude(60)
    document = reach_of(_block(60, 40, 20).cut(slot), shop(flat(4)), directions=[UP])
    v = view(_only(document, "plane", 60 * 8), document, UP)
    assert v is not None and v.lies == "wall"
    assert share(v, "D4") == pytest.approx(6 / 8, abs=0.05)


def test_of_a_ring_round_a_neck_as_much_is_seen_as_the_neck_leaves() -> None:
    """Ring R to r, neck of radius r: hidden is the far half between the lines |y| = r (circle segments: plane geometry)."""
    outer, neck = 20.0, 16.0
    part = cq.Workplane().circle(outer).extrude(8).union(cq.Workplane().circle(neck).extrude(14))
    part = part.union(cq.Workplane("XY", origin=(0, 0, 12)).circle(outer).extrude(8))
    document = reach_of(part, directions=[ALONG_X])
    ring = pi * (outer**2 - neck**2)
    beyond = outer**2 * acos(neck / outer) - neck * sqrt(outer**2 - neck**2)  # one segment
    rings = [f for f in document.faces if f.surface == "plane" and f.area == pytest.approx(ring, rel=1e-3)]
    seen = [v.seen for f in rings if (v := view(f, document, ALONG_X)) is not None]
    assert seen == pytest.approx([(ring / 2 + beyond) / ring] * 2, abs=0.03)


def test_a_disc_seen_edge_on_is_seen() -> None:
    """Small beside the part, its rim beginning at the very level in its middle."""
    part = _block(70, 70, 10).translate((-35, -35, 0)).union(cq.Workplane().circle(7.2).extrude(14))
    sides = [(1.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, -1.0, 0.0)]
    document = reach_of(part, directions=sides)
    views = _only(document, "plane", pi * 7.2**2).views
    assert [v.seen for v in views] == pytest.approx([1.0] * 4)


def test_a_cutter_wider_than_the_mouth_touches_nothing_of_the_floor_behind_it() -> None:
    """A tee slot closed at both ends, its mouth 8 wide: what is seen of the floor is 8 of 20, and a cutter of 10 is too wide."""
    part = (
        _block(80, 50, 30).cut(_block(40, 20, 6).translate((20, 15, 12))).cut(_block(40, 8, 20).translate((20, 21, 12)))
    )
    document = reach_of(part, shop(flat(4), flat(10)), directions=[UP])
    v = view(_only(document, "plane", 40 * 20), document, UP)
    assert v is not None and v.seen == pytest.approx(0.4)
    assert share(v, "D10") == pytest.approx(0.0, abs=1e-3)
    corners = 4 * (1 - pi / 4) * 2**2  # what a disc of radius 2 leaves in square corners
    assert share(v, "D4") == pytest.approx(0.4 - corners / (40 * 20), abs=5e-4)


def test_walls_that_lean_in_over_their_floor_are_not_seen_from_the_side() -> None:
    pocket = cq.Workplane("XY", origin=(30, 20, 10)).rect(40, 20).extrude(20, taper=5)
    document = reach_of(_block(60, 40, 30).cut(pocket), directions=[UP, ALONG_X])
    slant = 20 / 2 * (40 + 40 - 2 * 20 * tan(radians(5))) / sqrt(1 / (1 + tan(radians(5)) ** 2))
    walls = [f for f in document.faces if f.area == pytest.approx(slant, rel=1e-3)]
    assert len(walls) == 2 and not any(f.views for f in walls)


def test_the_wall_of_a_free_form_stands() -> None:
    points = [(0, 0), (8, 5), (18, 1), (15, 12), (5, 14)]
    pocket = cq.Workplane("XY", origin=(20, 20, 18)).spline(points, periodic=True).close().extrude(10)
    document = reach_of(_block(60, 60, 20).cut(pocket), directions=[UP])
    (wall,) = [f for f in document.faces if f.surface not in ("plane", "cylinder")]
    assert [(v.lies, round(v.seen, 6)) for v in wall.views] == [("wall", 1.0)] and wall.exact


def test_what_an_undercut_cutter_does_is_no_fault() -> None:
    bore = cq.Workplane("XY", origin=(25, 25, 0)).circle(10).extrude(30)
    groove = cq.Workplane("XY", origin=(25, 25, 12)).circle(13).extrude(3)
    document = reach_of(_block(50, 50, 30).cut(bore).cut(groove))
    assert document.undercuts[0].cutter is not None and document.verdict == "reached"
    assert not [f for f in document.findings if f.severity == "error"]


def test_words_name_the_bore_that_is_too_small_or_in_the_way() -> None:
    small = reach_of(_block(20, 20, 20).faces(">Z").workplane(origin=(10, 10, 20)).hole(0.3, 2), directions=[UP])
    (wall,) = [f for f in small.faces if f.surface == "cylinder"]
    floor = _only(small, "plane", pi * 0.15**2)
    assert [b.reason for v in floor.views for b in v.blockers] == ["gap_too_narrow"]
    assert [b.faces for v in floor.views for b in v.blockers] == [[wall.index]]
    deep = reach_of(_block(50, 50, 40).faces(">Z").workplane(origin=(25, 25, 40)).hole(10, 25), directions=[ALONG_X])
    (wall,) = [f for f in deep.faces if f.surface == "cylinder"]
    bottom = _only(deep, "plane", pi * 25)
    assert bottom.reasons == [f"from +x material stands above it (face {wall.index})"]


def test_a_cutter_too_short_for_a_bore_touches_it_as_far_down_as_it_goes() -> None:
    """20 of 22 deep, its holder wider than the bore: the facets of the wall count by what of them lies above."""
    part = _block(60, 60, 22).faces(">Z").workplane(origin=(30, 30, 22)).hole(5.5)
    part = part.cut(_block(10, 60, 9).translate((50, 0, 13)))  # a level in between
    document = reach_of(part, shop(flat(2, length=20, holder=[(28.0, 50.0)])), directions=[UP])
    (wall,) = [f for f in document.faces if f.surface == "cylinder"]
    assert share(view(wall, document, UP), "D2") == pytest.approx(20 / 22, abs=1e-4)


def test_beside_a_ball_that_stands_out_any_flat_cutter_has_room() -> None:
    """Higher up it is narrower: nothing of the ball stands inside a disc that touches it from outside, at its top least of all."""
    part = _block(60, 60, 10).union(cq.Workplane("XY", origin=(30, 30, 4)).sphere(12))
    document = reach_of(part, shop(flat(4), flat(20)), directions=[UP])
    (ball,) = [f for f in document.faces if f.surface == "sphere" and f.views]
    v = view(ball, document, UP)
    assert v is not None and v.largest == "D20" and share(v, "D20") == pytest.approx(1.0)
