"""Parts whose features' volumes follow from plain geometry: each feature's removal volume, and nothing left over."""

from __future__ import annotations

from math import pi, tan

import cadquery as cq
import pytest

from tests.closure.parts import document_of, named, volumes


def block(x: float = 80, y: float = 60, z: float = 30) -> cq.Workplane:
    return cq.Workplane().box(x, y, z, centered=False)


def assert_closed(document, share: float = 1e-3) -> None:
    c = document.closure
    assert c.unexplained <= share * max(c.removed, 1e-9) + 1e-6
    assert c.removed == pytest.approx(sum(f.removal_volume for f in document.features))
    assert not [f for f in document.findings if f.code.startswith("volume_")]


def test_plain_block_removes_nothing():
    document = document_of(block())
    assert document.closure.removed == 0
    assert document.closure.unexplained == pytest.approx(0, abs=1e-6)


def test_through_hole_is_its_cylinder():
    document = document_of(block().faces(">Z").workplane(centerOption="CenterOfBoundBox").hole(12))
    assert volumes(document, "round_hole") == [pytest.approx(pi * 36 * 30)]
    assert_closed(document, 1e-9)


def test_drilled_hole_has_its_point():
    """118 degrees: point height r / tan(59)."""
    point = cq.Solid.makeCone(0, 5, 5 / tan(59 * pi / 180), pnt=(40, 30, 10 - 5 / tan(59 * pi / 180)), dir=(0, 0, 1))
    work = block().cut(cq.Workplane(cq.Solid.makeCylinder(5, 20, cq.Vector(40, 30, 10)))).cut(cq.Workplane(point))
    document = document_of(work)
    assert volumes(document, "round_hole") == [pytest.approx(pi * 25 * 20 + pi * 25 * 5 / tan(59 * pi / 180) / 3)]
    assert_closed(document, 1e-9)


def test_counterbore_is_both_cylinders():
    document = document_of(block().faces(">Z").workplane(centerOption="CenterOfBoundBox").cboreHole(8, 14, 6))
    assert volumes(document, "counterbore_hole") == [pytest.approx(pi * 49 * 6 + pi * 16 * 24)]
    assert_closed(document, 1e-9)


def test_countersink_is_frustum_and_cylinder():
    """90 degrees from 16 to 8 mm: 4 mm high."""
    document = document_of(block().faces(">Z").workplane(centerOption="CenterOfBoundBox").cskHole(8, 16, 90))
    frustum = pi * 4 / 3 * (64 + 32 + 16)
    assert volumes(document, "countersunk_hole") == [pytest.approx(frustum + pi * 16 * 26)]
    assert_closed(document, 1e-9)


def test_pocket_with_corner_radii():
    work = block().cut(cq.Workplane(origin=(40, 30, 18)).rect(40, 24).extrude(12).edges("|Z").fillet(5))
    document = document_of(work)
    assert volumes(document, "closed_pocket") == [pytest.approx((40 * 24 - (4 - pi) * 25) * 12)]
    assert_closed(document, 1e-9)


def test_pocket_with_corner_and_floor_radii():
    """Pappus for the fillet round the floor: area r^2 (1 - pi/4), centroid r (10 - 3 pi) / (12 - 3 pi) from the wall."""
    tool = (
        cq.Workplane(origin=(40, 30, 18)).rect(40, 24).extrude(12).edges("|Z").fillet(5).faces("<Z").edges().fillet(2)
    )
    document = document_of(block().cut(tool))
    area, off = 4 * (1 - pi / 4), 2 * (10 - 3 * pi) / (12 - 3 * pi)
    fillet = area * (2 * 30 + 2 * 14) + 2 * pi * (5 - off) * area
    assert volumes(document, "closed_pocket") == [pytest.approx((40 * 24 - (4 - pi) * 25) * 12 - fillet, rel=1e-5)]
    assert_closed(document, 1e-5)


def test_island_stays():
    tool = (
        cq.Workplane(origin=(40, 30, 20))
        .rect(60, 40)
        .extrude(10)
        .cut(cq.Workplane(origin=(40, 30, 20)).circle(8).extrude(10))
    )
    document = document_of(block().cut(tool))
    assert document.closure.removed == pytest.approx((60 * 40 - 64 * pi) * 10, rel=1e-6)
    assert_closed(document, 1e-6)


def test_crossing_slots_share_their_crossing_once():
    work = block().cut(cq.Workplane().box(80, 10, 10, centered=False).translate((0, 25, 20)))
    work = work.cut(cq.Workplane().box(12, 60, 10, centered=False).translate((34, 0, 20)))
    document = document_of(work)
    assert document.closure.removed == pytest.approx(10 * (80 * 10 + 60 * 12 - 120))
    assert_closed(document, 1e-9)


def test_vee_slot_is_a_triangle():
    tool = cq.Workplane("YZ").polyline([(20, 30), (40, 30), (30, 20)]).close().extrude(80)
    document = document_of(block().cut(tool))
    assert document.closure.removed == pytest.approx(100 * 80)
    assert_closed(document, 1e-9)


def test_hole_in_a_pocket_starts_at_its_floor():
    work = block().cut(cq.Workplane().box(40, 30, 10, centered=False).translate((20, 15, 20)))
    work = work.faces("<Z").workplane(origin=(40, 30, 0)).hole(10)
    document = document_of(work)
    assert volumes(document, "round_hole") == [pytest.approx(pi * 25 * 20)]
    assert volumes(document, "closed_pocket") == [pytest.approx(40 * 30 * 10)]
    assert_closed(document, 1e-9)


def test_chamfer_is_a_triangle_along_its_edge():
    document = document_of(block().edges("|X and >Y and >Z").chamfer(3))
    assert volumes(document, "chamfer") == [pytest.approx(4.5 * 80)]
    assert_closed(document, 1e-9)


def test_edge_round_is_a_square_without_its_quarter_disc():
    document = document_of(block().edges("|X and >Y and >Z").fillet(4))
    assert volumes(document, "edge_round") == [pytest.approx(16 * (1 - pi / 4) * 80)]
    assert_closed(document, 1e-9)


def test_chamfer_whose_edge_was_rounded_is_still_its_triangle():
    """The round takes r^2 (tan(a/2) - a/2) of the 45 degree edge: two tangent lengths and the sector, by plane geometry."""
    work = block().edges("|X and >Y and >Z").chamfer(6)
    document = document_of(work.edges(cq.selectors.NearestToPointSelector((40, 54, 30))).fillet(3))
    assert volumes(document, "chamfer") == [pytest.approx(18 * 80)]
    assert volumes(document, "edge_round") == [pytest.approx(9 * (tan(pi / 8) - pi / 8) * 80)]
    assert_closed(document, 1e-9)


def test_chamfer_round_a_disc_by_pappus():
    """Triangle of 2 by 2, centroid 2/3 from the rim of a disc of radius 30 in its square box of 60."""
    document = document_of(cq.Workplane().circle(30).extrude(20).faces(">Z").edges().chamfer(2))
    # The outside is cut first; where its 72 chords bulge into the chamfer they take half a per cent of it.
    assert volumes(document, "chamfer") == [pytest.approx(2 * pi * (30 - 2 / 3) * 2, rel=1e-2)]
    assert volumes(document, "outside_profile") == [pytest.approx((3600 - 900 * pi) * 20, rel=1e-6)]
    assert_closed(document, 2e-4)


def test_dovetail_is_a_trapezoid():
    tool = cq.Workplane("YZ").polyline([(20, 18), (40, 18), (36, 30), (24, 30)]).close().extrude(80)
    document = document_of(block().cut(tool))
    assert volumes(document, "undercut") == [pytest.approx((20 + 12) / 2 * 12 * 80)]
    assert_closed(document, 1e-9)


def test_tee_slot_is_two_rectangles():
    tool = cq.Workplane().box(80, 24, 6, centered=False).translate((0, 18, 12))
    tool = tool.union(cq.Workplane().box(80, 12, 12, centered=False).translate((0, 24, 18)))
    document = document_of(block().cut(tool))
    assert volumes(document, "undercut") == [pytest.approx(80 * (24 * 6 + 12 * 12))]
    assert_closed(document, 1e-9)


def test_floor_goes_on_over_a_notch_in_its_edge():
    """A pad stands on a low floor whose edge a slot from the side has taken away: the air above is the floor's."""
    work = (
        cq.Workplane()
        .box(80, 60, 10, centered=False)
        .union(cq.Workplane().box(20, 20, 30, centered=False).translate((40, 20, 0)))
    )
    work = work.cut(cq.Workplane().box(12, 8, 10, centered=False).translate((10, 0, 0)))
    document = document_of(work)
    assert document.closure.removed == pytest.approx(80 * 60 * 30 - (80 * 60 * 10 + 20 * 20 * 20 - 12 * 8 * 10))
    assert_closed(document, 1e-6)


def test_tilted_part_closes_in_its_own_frame():
    work = block().faces(">Z").workplane(centerOption="CenterOfBoundBox").hole(12)
    work = work.cut(cq.Workplane().box(80, 10, 10, centered=False).translate((0, 0, 20)))
    work = work.rotate((0, 0, 0), (1, 2, 3), 37)
    document = document_of(work)
    assert document.closure.stock_volume == pytest.approx(80 * 60 * 30, rel=1e-6)
    assert document.closure.removed == pytest.approx(pi * 36 * 30 + 8000, rel=1e-6)
    assert_closed(document, 1e-5)


def test_oblique_hole_closes():
    """A 10 mm hole 30 degrees off the vertical through a 30 mm plate: as long as its axis, 30 / cos 30."""
    tool = cq.Workplane(
        cq.Solid.makeCylinder(5, 200, cq.Vector(40 - 50, 30, 15 - 86.602540378), cq.Vector(0.5, 0, 0.8660254038))
    )
    document = document_of(block().cut(tool))
    assert document.closure.removed == pytest.approx(pi * 25 * 30 / 0.8660254038, rel=1e-3)
    assert_closed(document)


def test_sealed_void_is_named_and_stays_unexplained():
    work = block().cut(cq.Workplane().box(10, 10, 10, centered=False).translate((30, 20, 10)))
    document = document_of(work)
    assert document.closure.unexplained == pytest.approx(1000)
    found = [f for f in document.findings if f.code == "volume_sealed"]
    assert (
        len(found) == 1
        and found[0].features == [named(document, "enclosed_void")[0].id]
        and "1000 mm3" in found[0].message
    )


def test_pocket_whose_walls_go_on_below_its_floor():
    """A wide pocket 12 deep, and in its middle a slot of the same width that goes through: no floor there."""
    work = block().cut(cq.Workplane().box(80, 40, 12, centered=False).translate((0, 10, 18)))
    work = work.cut(cq.Workplane().box(10, 40, 30, centered=False).translate((70, 10, 0)))
    document = document_of(work)
    assert document.closure.removed == pytest.approx(80 * 40 * 12 + 10 * 40 * 18, rel=1e-4)
    assert_closed(document)


def test_round_pocket_with_a_round_island_keeps_it():
    """Bore of 30 with a pin of 10 left standing in it, lower than the top."""
    ring = cq.Workplane(cq.Solid.makeCylinder(15, 12, cq.Vector(40, 30, 18)))
    pin = cq.Workplane(cq.Solid.makeCylinder(5, 8, cq.Vector(40, 30, 18)))
    document = document_of(block().cut(ring.cut(pin)))
    assert document.closure.removed == pytest.approx(pi * (225 * 12 - 25 * 8), rel=1e-4)
    assert_closed(document)


def test_mushroom_is_not_cut_and_what_is_missing_is_named():
    """Foot 80 x 60 x 10, neck 20 x 20, cap 40 x 40 x 5 on top: no more is removed than is there, and the rest is said."""
    work = cq.Workplane().box(80, 60, 10, centered=False)
    work = work.union(cq.Workplane().box(20, 20, 25, centered=False).translate((30, 20, 10)))
    work = work.union(cq.Workplane().box(40, 40, 5, centered=False).translate((20, 10, 35)))
    document = document_of(work)
    air = 80 * 60 * 30 - 20 * 20 * 25 - 40 * 40 * 5
    c = document.closure
    assert c.removed + c.unexplained == pytest.approx(air, rel=1e-3)
    said = {f.code for f in document.findings if f.code.startswith("volume_")}
    assert said == ({"volume_unexplained"} if c.unexplained > 1e-3 * c.removed else set())
