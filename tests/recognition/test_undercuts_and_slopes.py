"""Dovetails with relieved corners, slopes that are no chamfers, lofted walls. Truth by construction."""

from math import hypot, pi, radians, tan

import cadquery as cq
import pytest


def _box(x0, y0, z0, x1, y1, z1):
    return cq.Workplane().box(x1 - x0, y1 - y0, z1 - z0, centered=False).translate((x0, y0, z0))


def _kinds(document):
    return sorted(f.kind for f in document.features if f.kind != "planar_face")


def _closed(document):
    assert document.closure.unexplained < 1e-3 * document.closure.removed
    assert all(f.feature for f in document.faces)


FOOT = 12 + 10 / tan(radians(60))
"""Half the width of the dovetail's foot: 24 mm wide at the mouth, 10 deep, 60 degrees."""


def _dovetail():
    section = cq.Workplane("YZ").polyline([(-12, 30), (12, 30), (FOOT, 20), (-FOOT, 20)]).close()
    return _box(0, -30, 0, 80, 30, 30).cut(section.extrude(80))


@pytest.mark.parametrize("relief", [(1.5, 18.5), (0.8, 17.0)])
def test_a_dovetail_with_relieved_corners_is_one_undercut(features_of, relief):
    half, low = relief
    part = _dovetail()
    for y in (-FOOT, FOOT):
        part = part.cut(_box(0, y - half, low, 80, y + half, 20.5))
    document = features_of(part)
    assert _kinds(document) == ["undercut"]
    cut = next(f for f in document.features if f.kind == "undercut")
    assert cut.dimensions == pytest.approx({"length": 80, "width": 24, "depth": 10, "flank_angle": 60}, abs=1e-3)
    assert cut.views[0].bottom == pytest.approx(20.0)  # the floor, not the reliefs
    _closed(document)


def test_drilled_corners_of_a_dovetail_stay_holes(features_of):
    part = _dovetail()
    for y in (0.5 - FOOT, FOOT - 0.5):
        part = part.cut(cq.Workplane("YZ").center(y, 20.2).circle(1).extrude(80))
    document = features_of(part)
    assert _kinds(document) == ["round_hole", "round_hole", "undercut"]
    _closed(document)


def test_a_slope_on_which_a_hole_opens_is_a_face(features_of):
    """60 mm of slope between 30 and 20 mm of what is left: no edge that was broken."""
    part = cq.Workplane("XZ").polyline([(0, 0), (80, 0), (80, 20), (30, 50), (0, 50)]).close().extrude(-50)
    size = hypot(30, 50)
    n = cq.Vector(30 / size, 0, 50 / size)
    foot = cq.Vector(55, 25, 35) - n * 40
    part = part.cut(cq.Workplane(cq.Solid.makeCylinder(4, 60, foot, n)))
    document = features_of(part)
    assert _kinds(document) == ["round_hole"]
    hole = next(f for f in document.features if f.kind == "round_hole")
    slope = next(f for f in document.features if f.id in hole.inside)
    assert slope.kind == "planar_face" and slope.removal_volume == pytest.approx(50 * 30 / 2 * 50, rel=1e-3)
    assert hole.removal_volume == pytest.approx(pi * 16 * 40, rel=5e-3)


def test_a_wide_chamfer_narrower_than_what_it_leaves_is_still_one(features_of):
    part = _box(0, 0, 0, 60, 40, 30).edges(">Z and >X").chamfer(10)
    assert _kinds(features_of(part)) == ["chamfer"]


def test_lofted_walls_shut_a_pocket_all_round(features_of):
    tool = cq.Workplane().workplane(offset=10).center(40, 30).rect(24, 18).workplane(offset=20).circle(22).loft()
    document = features_of(_box(0, 0, 0, 80, 60, 30).cut(tool))
    assert _kinds(document) == ["closed_pocket"]
    pocket = next(f for f in document.features if f.kind == "closed_pocket")
    assert pocket.open_sides == 0 and pocket.views[0].depth == pytest.approx(20)
    _closed(document)


def test_a_chain_drilled_slot_is_one_pocket_shut_by_its_arcs(features_of):
    """Three blind holes in a row, cut into each other: their floors are one."""
    part = _box(0, 0, 0, 60, 40, 20)
    for x in (20, 28, 36):
        part = part.cut(cq.Workplane(cq.Solid.makeCylinder(5, 12, cq.Vector(x, 20, 8))))
    document = features_of(part)
    assert _kinds(document) == ["closed_pocket"]
    pocket = next(f for f in document.features if f.kind == "closed_pocket")
    assert pocket.views[0].narrowest_gap == pytest.approx(6.0, rel=0.01)  # 2 sqrt(5^2 - 4^2) where two arcs meet
    _closed(document)


def test_a_bowl_closes_the_volume(features_of):
    document = features_of(_box(0, 0, 0, 60, 60, 30).cut(cq.Workplane().sphere(18).translate((30, 30, 35))))
    pocket = next(f for f in document.features if f.kind == "closed_pocket")
    assert pocket.removal_volume == pytest.approx(pi * 13**2 * (18 - 13 / 3), rel=1e-3)  # a cap 13 mm deep
    _closed(document)


@pytest.mark.parametrize("degrees", [0, 37, 211])
def test_floor_radii_that_run_out_at_open_ends_are_no_walls(features_of, degrees):
    """A channel that is wider at both ends, with radii along its floor: its ends are open, and no corner is sharp."""
    wide, narrow = _box(-60, -25, 10, 60, 25, 40), _box(-30, -40, 10, 30, 40, 40)
    tool = wide.union(narrow).edges("|Z").edges("not(<X or >X)").fillet(5).faces("<Z").edges("not(<X or >X)").fillet(3)
    part = _box(-60, -50, 0, 60, 50, 30).cut(tool)
    document = features_of(part.rotate((0, 0, 0), (1, 2, 3), degrees))
    pocket = next(f for f in document.features if f.kind == "open_pocket")
    view = pocket.views[0]
    assert view.open_sides == 2 and view.corner_radius == pytest.approx(5.0, abs=1e-3)
    assert view.floor_radius == pytest.approx(3.0, abs=1e-3)
    _closed(document)
