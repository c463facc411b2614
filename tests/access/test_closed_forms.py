"""Reach against closed forms: corners, gaps, bores, bowls."""

from __future__ import annotations

from math import asin, pi, sqrt

import cadquery as cq
import pytest

from shared.reach import ReachLimits
from tests.access.parts import flat, reach_of, share, shop, view

UP = (0.0, 0.0, 1.0)
LOOSE = ReachLimits(fail=1e6)


def faces_of(part: cq.Workplane, selector: str) -> list[int]:
    """Indices of the faces that a selector names."""
    wanted = {f.hashCode() for f in part.faces(selector).vals()}
    return [i for i, f in enumerate(part.faces().vals()) if f.hashCode() in wanted]


def pocket(length: float = 40.0, width: float = 30.0, depth: float = 8.0, corner: float = 0.0) -> cq.Workplane:
    cut = cq.Workplane().box(length, width, 2 * depth)
    if corner:
        cut = cut.edges("|Z").fillet(corner)
    return cq.Workplane().box(100, 80, 40).cut(cut.translate((0, 0, 20)))


def floor_of(document, level: float):  # type: ignore[no-untyped-def]
    for face in document.faces:
        v = view(face, document, UP)
        if v and v.lies == "floor" and abs(face.area - level) < 1e-3:
            return v
    raise AssertionError("no such floor")


@pytest.mark.parametrize("diameter", [4.0, 10.0, 16.0])
def test_a_round_cutter_leaves_a_square_corner_uncut(diameter: float) -> None:
    """(1 - pi/4) D^2 / 4 a corner: geometry, the square of the radius less a quarter disc."""
    document = reach_of(pocket(), shop(flat(diameter)), limits=LOOSE)
    left = 4 * (1 - pi / 4) * diameter**2 / 4
    area = 40.0 * 30.0
    assert (1 - share(floor_of(document, area), f"D{diameter:g}")) * area == pytest.approx(left, rel=0.02)


@pytest.mark.parametrize("diameter", [4.0, 10.0])
def test_walls_beside_a_square_corner_lose_a_radius_at_each_end(diameter: float) -> None:
    document = reach_of(pocket(), shop(flat(diameter)), limits=LOOSE)
    walls = [f for f in document.faces if abs(f.area - 40 * 8) < 1e-6]
    assert len(walls) == 2
    for wall in walls:
        v = view(wall, document, UP)
        assert share(v, f"D{diameter:g}") == pytest.approx(1 - diameter / 40, abs=1e-3)
        assert v.blockers[0].reason == "corner_too_tight"
        assert wall.verdict == "not_reached"


@pytest.mark.parametrize(("diameter", "whole"), [(9.9, True), (10.0, True), (10.2, False)])
def test_corner_radius_names_the_largest_cutter(diameter: float, whole: bool) -> None:
    document = reach_of(pocket(corner=5.0), shop(flat(diameter)), limits=LOOSE)
    assert (document.verdict == "reached") is whole
    walls = [view(f, document, UP) for f in document.faces if abs(f.area - 30 * 8) < 1e-6 or f.surface == "cylinder"]
    assert len(walls) == 6
    assert min(v.fits for v in walls if v and v.fits) == pytest.approx(10.0, abs=1e-3)


@pytest.mark.parametrize(("diameter", "share_"), [(7.9, 1.0), (8.0, 1.0), (8.1, 0.0)])
def test_a_slot_takes_a_cutter_up_to_its_width(diameter: float, share_: float) -> None:
    part = cq.Workplane().box(60, 40, 20).cut(cq.Workplane().box(60, 8, 12).translate((0, 0, 10)))
    document = reach_of(part, shop(flat(diameter)), directions=[UP], limits=LOOSE)
    walls = [f for f in document.faces if abs(f.area - 60 * 6) < 1e-6]
    floor = floor_of(document, 60 * 8)
    assert len(walls) == 2
    for v in [view(w, document, UP) for w in walls]:
        assert share(v, f"D{diameter:g}") == pytest.approx(share_, abs=2e-3)
    # A cutter that is too wide still pokes in at the open ends: segments of its circle on a chord of 8 mm.
    r = diameter / 2
    poked = 2 * (r * r * asin(4 / r) - 4 * sqrt(r * r - 16)) / (60 * 8) if r > 4 else 1.0
    assert share(floor, f"D{diameter:g}") == pytest.approx(poked, abs=2e-3)
    if share_ == 0:
        assert {b.reason for w in walls for b in view(w, document, UP).blockers} == {"gap_too_narrow"}


def test_a_bore_is_seen_along_its_axis_only() -> None:
    """Inner wall of a through bore: all of it along the axis, nothing across it."""
    part = cq.Workplane().box(40, 40, 20).faces(">Z").workplane().hole(12)
    document = reach_of(part, shop(flat(10), flat(12), flat(12.2)), limits=LOOSE)
    (bore,) = [f for f in document.faces if f.surface == "cylinder"]
    assert {document.directions[v.direction].vector for v in bore.views} == {UP, (0.0, 0.0, -1.0)}
    v = view(bore, document, UP)
    assert v.seen == pytest.approx(1.0) and v.fits == pytest.approx(12.0, abs=1e-6)
    assert [share(v, c) for c in ("D10", "D12", "D12.2")] == pytest.approx([1.0, 1.0, 0.0])


def test_how_much_of_a_leaning_bore_is_seen() -> None:
    """Seen at angle a from the axis of a long bore of radius r, a ruling at angle p is lit to the depth where its chord
    ends, 2 r cos p / tan a; so the lit area is the integral of that times r dp over half a turn, 4 r^2 / tan a. Geometry.
    """
    r, length, angle = 5.0, 40.0, 45.0
    part = cq.Workplane().box(60, 60, length).faces(">Z").workplane().hole(2 * r)
    slanted = (1 / sqrt(2), 0.0, 1 / sqrt(2))
    document = reach_of(part, shop(flat(2)), directions=[slanted], limits=LOOSE)
    (bore,) = [f for f in document.faces if f.surface == "cylinder"]
    seen = 4 * r * r / 1.0 / (2 * pi * r * length)
    assert bore.views[0].seen == pytest.approx(seen, abs=0.02), f"at {angle} degrees"


def test_a_bowl_takes_a_flat_cutter_up_to_the_circle_at_its_level() -> None:
    """At depth t below the rim of a hemisphere of radius r the circle's radius is sqrt(r^2 - t^2)."""
    r, cutter = 15.0, 6.0
    part = cq.Workplane().box(60, 60, 40).cut(cq.Workplane().sphere(r).translate((0, 0, 20)))
    document = reach_of(part, shop(flat(2 * cutter)), directions=[UP], limits=LOOSE)
    (bowl,) = [f for f in document.faces if f.surface == "sphere"]
    v = view(bowl, document, UP)
    # Area of a sphere's zone is 2 pi r h: the share above the level where the circle is as wide as the cutter.
    assert share(v, "D12") == pytest.approx(sqrt(r * r - cutter * cutter) / r, abs=0.06)


def test_a_bore_below_every_cutter_is_named_as_that() -> None:
    """Not a corner: nothing but its own size keeps cutters out."""
    part = cq.Workplane().box(20, 20, 10).faces(">Z").workplane().hole(0.3)
    face = next(f for f in reach_of(part).faces if f.surface == "cylinder")
    assert (face.verdict, face.touched) == ("not_reached", 0.0)
    assert face.reasons == ["from +z the bore is narrower than any cutter of the file that could make it"]
    assert [(b.reason, b.faces) for b in face.views[0].blockers] == [("gap_too_narrow", [])]
