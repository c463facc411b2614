"""One test a pitfall of the kernel: what the snapshot says whatever way the kernel keeps the shape.

Expected areas, volumes and extents are the formulas of elementary geometry (prism, cylinder, cone frustum, sphere,
torus by Pappus' theorem), from memory.
"""

from __future__ import annotations

from collections import Counter
from math import cos, pi, radians, sqrt
from pathlib import Path

import cadquery as cq
import pytest
from OCP.BRepBuilderAPI import BRepBuilderAPI_NurbsConvert, BRepBuilderAPI_Transform
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf

from recognizer.graph import PartGraph
from recognizer.kernel.read import read_solid
from recognizer.kernel.snapshot import snapshot_of
from recognizer.snapshot import Snapshot
from recognizer.vector import cross, distance, dot, sub, unit
from tests.random_parts.changes import write

TIP = cq.Solid.makeCone(5, 0, 5, cq.Vector(0, 0, 10), cq.Vector(0, 0, -1))


def drilled() -> cq.Workplane:
    """A block of 60 x 40 x 20 with a blind hole of 10 with a conical point, and a through hole of 8."""
    block = cq.Workplane().box(60, 40, 20, centered=False)
    block = block.cut(cq.Workplane().center(15, 20).circle(5).extrude(10).translate((0, 0, 10)))
    block = block.cut(cq.Workplane(TIP.translate(cq.Vector(15, 20, 0))))
    return block.cut(cq.Workplane().center(45, 20).circle(4).extrude(20))


def all_kinds() -> cq.Workplane:
    """A block with faces of every elementary kind, hollow and not: ring groove, dimple, countersink, knob, neck."""
    block = cq.Workplane().box(100, 60, 30, centered=False)
    block = block.cut(cq.Workplane(cq.Solid.makeTorus(12, 3, cq.Vector(25, 30, 30), cq.Vector(0, 0, 1))))
    block = block.cut(cq.Workplane(cq.Solid.makeSphere(6, cq.Vector(60, 15, 33), angleDegrees1=-90)))
    block = block.cut(cq.Workplane(cq.Solid.makeCone(2, 7, 5, cq.Vector(60, 42, 25), cq.Vector(0, 0, 1))))
    block = block.cut(cq.Workplane().center(60, 42).circle(2).extrude(30))
    return block.union(
        cq.Workplane().center(85, 30).circle(8).extrude(12).faces(">Z").edges().fillet(3).translate((0, 0, 30))
    )


def taken(work: cq.Workplane | cq.Shape) -> Snapshot:
    """Snapshot of the only solid."""
    shape = work.findSolid() if isinstance(work, cq.Workplane) else work
    return snapshot_of(shape.Solids()[0].wrapped)


def kinds(s: Snapshot) -> Counter:
    """Kind, hollow, radii and span of every curved face."""
    rows = (
        (f.kind, f.surface.hollow, f.surface.radius if f.kind != "cone" else 0.0, f.surface.major_radius, f.span)
        for f in s.faces
    )
    return Counter((k, h, round(r, 3), round(R, 3), round(span) if k != "sphere" else 0) for k, h, r, R, span in rows)


def mirrored(shape: cq.Shape) -> cq.Shape:
    flip = gp_Trsf()
    flip.SetMirror(gp_Ax2(gp_Pnt(3, 0, 0), gp_Dir(1, 0, 0)))
    return cq.Shape.cast(BRepBuilderAPI_Transform(shape.wrapped, flip, True).Shape())


def test_volume_and_areas_follow_the_formulas() -> None:
    s = taken(drilled())
    bore, tip, through = pi * 25 * 10, pi * 25 * 5 / 3, pi * 16 * 20
    assert s.volume == pytest.approx(60 * 40 * 20 - bore - tip - through, rel=1e-9)
    areas = sorted(f.area for f in s.faces if f.kind in ("cylinder", "cone"))
    assert areas == pytest.approx(sorted([pi * 10 * 10, pi * 8 * 20, pi * 5 * sqrt(50)]), rel=1e-9)


def test_volume_of_a_ring_groove_by_pappus() -> None:
    block = cq.Workplane().box(60, 60, 30, centered=False)
    groove = cq.Solid.makeTorus(12, 3, cq.Vector(30, 30, 30), cq.Vector(0, 0, 1))
    s = taken(block.cut(cq.Workplane(groove)))
    half_disc, centre = pi * 9 / 2, 12.0  # the lower half of the tube runs round at its own middle: R
    assert s.volume == pytest.approx(60 * 60 * 30 - half_disc * 2 * pi * centre, rel=1e-6)


def test_volume_of_a_solid_off_the_origin_is_the_same() -> None:
    here, there = drilled(), drilled().translate((1000, -700, 300))
    assert taken(there).volume == pytest.approx(taken(here).volume, rel=1e-9)
    assert taken(all_kinds().translate((1000, -700, 300))).volume == pytest.approx(taken(all_kinds()).volume, rel=1e-7)


def test_mirrored_frames_keep_normals_outward_and_hollow_true() -> None:
    s, m = taken(all_kinds()), taken(mirrored(all_kinds().findSolid()))
    assert kinds(m) == kinds(s)
    assert m.volume == pytest.approx(s.volume, rel=1e-9) and m.volume > 0
    assert Counter(round(e.bend, 2) for e in m.edges) == Counter(round(e.bend, 2) for e in s.edges)


def test_splines_that_are_elementary_surfaces_are_named_so() -> None:
    solid = all_kinds().findSolid()
    splines = cq.Shape.cast(BRepBuilderAPI_NurbsConvert(solid.wrapped, True).Shape())
    s, n = taken(solid), taken(splines)
    assert kinds(n) == kinds(s)
    assert n.volume == pytest.approx(s.volume, rel=1e-5)
    assert Counter(e.curve for e in n.edges) == Counter(e.curve for e in s.edges)
    assert Counter(round(e.bend, 1) for e in n.edges) == Counter(round(e.bend, 1) for e in s.edges)


def test_a_seam_is_one_face_twice_and_no_bend() -> None:
    s = taken(drilled())
    seams = [e for e in s.edges if e.seam]
    assert len(seams) == 3  # two cylinders and the cone
    assert all(e.bend == 0 and len(e.faces) == 1 and s.faces[e.faces[0]].span == pytest.approx(360) for e in seams)


def test_a_cone_tip_is_a_degenerate_edge_at_one_point() -> None:
    s = taken(drilled())
    (tip,) = [e for e in s.edges if e.degenerate]
    assert distance(tip.start, (15, 20, 5)) < 1e-6 and tip.length == 0 and tip.bend == 0


def test_pockets_that_touch_share_an_edge_of_four_faces() -> None:
    block = cq.Workplane().box(60, 60, 20, centered=False)
    for x, y in ((10, 10), (30, 30)):
        block = block.cut(cq.Workplane().box(20, 20, 10, centered=False).translate((x, y, 10)))
    s = taken(block)
    (shared,) = [e for e in s.edges if len(e.faces) == 4]
    assert shared.bend == 0
    assert s.volume == pytest.approx(60 * 60 * 20 - 2 * 20 * 20 * 10)


def test_an_unclean_union_leaves_a_smooth_edge_between_faces_of_one_surface() -> None:
    box = cq.Workplane().box(30, 20, 10, centered=False)
    s = taken(box.union(box.translate((30, 0, 0)), clean=False))
    graph = PartGraph(s)
    same = [e for e in s.edges if len(e.faces) == 2 and graph.group[e.faces[0]] == graph.group[e.faces[1]]]
    assert len(s.faces) == 10 and len(same) == 4
    assert all(e.bend == 0 and graph.graph.edges[(*e.faces, e.index)]["sign"] == "same" for e in same)


def test_half_cylinders_of_one_bore_are_one_surface_of_two_spans() -> None:
    half = cq.Workplane().box(40, 20, 10, centered=False).cut(cq.Workplane().center(20, 20).circle(6).extrude(10))
    other = half.mirror("XZ", (0, 20, 0))
    s = taken(half.union(other, clean=False))
    graph = PartGraph(s)
    bores = [f for f in s.faces if f.kind == "cylinder"]
    assert [round(f.span) for f in bores] == [180, 180] and all(f.surface.hollow for f in bores)
    assert len({graph.group[f.index] for f in bores}) == 1


def test_the_outer_loop_comes_first_and_loops_run_with_material_on_the_left() -> None:
    s = taken(cq.Workplane().box(60, 40, 10).faces(">Z").workplane().rarray(15, 12, 3, 2).hole(6))
    for f in s.faces:
        if len(f.loops) < 2:
            continue
        signed = [_signed_area(s.loop_points(f.index, k), f.surface.axis) for k in range(len(f.loops))]
        assert signed[0] == pytest.approx(60 * 40) and all(a < 0 for a in signed[1:]) and len(signed) == 7


def _signed_area(points: list, normal: tuple) -> float:
    return sum(dot(cross(a, b), normal) for a, b in zip(points, points[1:] + points[:1], strict=True)) / 2


def test_loops_are_closed_chains() -> None:
    s = taken(all_kinds())
    for f in s.faces:
        for loop in f.loops:
            ends = [
                (s.edges[e].start, s.edges[e].end) if forward else (s.edges[e].end, s.edges[e].start)
                for e, forward in loop
            ]
            for (_, behind), (before, _) in zip(ends, ends[1:] + ends[:1], strict=True):
                assert distance(behind, before) < 1e-5


def test_bends_are_convex_outside_and_concave_inside() -> None:
    s = taken(
        cq.Workplane()
        .box(60, 40, 20, centered=False)
        .cut(cq.Workplane().box(20, 20, 10, centered=False).translate((20, 10, 10)))
    )
    assert Counter(round(e.bend) for e in s.edges) == {90: 12 + 4, -90: 4 + 4}


def test_a_leaning_round_bar_reaches_as_far_as_its_circles() -> None:
    lean = radians(30)
    bar = cq.Solid.makeCylinder(10, 50, cq.Vector(0, 0, 0), cq.Vector(0, sqrt(1 - cos(lean) ** 2), cos(lean)))
    low, high = taken(bar).span((0.0, 0.0, 1.0))
    across = 10 * sqrt(1 - cos(lean) ** 2)
    assert low == pytest.approx(-across, abs=1e-9) and high == pytest.approx(50 * cos(lean) + across, abs=1e-9)


def test_an_arc_reaches_beyond_its_ends_only_where_it_passes() -> None:
    quarter = (
        cq.Workplane()
        .moveTo(0, 0)
        .lineTo(10, 0)
        .threePointArc((10 * sqrt(0.5), 10 * sqrt(0.5)), (0, 10))
        .close()
        .extrude(5)
    )
    d = unit((1.0, 1.0, 0.0))
    assert taken(quarter).span(d) == (pytest.approx(0.0, abs=1e-9), pytest.approx(10.0, abs=1e-9))
    assert taken(quarter).span((-d[0], -d[1], 0.0)) == (pytest.approx(-10.0, abs=1e-9), pytest.approx(0.0, abs=1e-9))


@pytest.mark.parametrize("schema", ["AP203", "AP214IS", "AP242DIS"])
@pytest.mark.parametrize("unit_", ["MM", "INCH"])
def test_any_protocol_and_unit_gives_the_same_snapshot_in_mm(schema: str, unit_: str, tmp_path: Path) -> None:
    path = tmp_path / "part.step"
    write(all_kinds().findSolid(), path, schema, unit_)
    read = read_solid(path)
    s, direct = snapshot_of(read.shape, read.step_ids), taken(all_kinds())
    assert read.unit == ("inch" if unit_ == "INCH" else "mm") and read.step_schema == schema[:5]
    assert kinds(s) == kinds(direct) and s.volume == pytest.approx(direct.volume, rel=1e-7)
    assert all(f.step_id for f in s.faces)


def test_facets_lie_on_their_surfaces_and_face_outward() -> None:
    s = taken(all_kinds())
    for face, corners in s.facet_arrays.items():
        normals = s.faces[face].surface.normals_at(corners.reshape(-1, 3))
        for t, n in zip(corners, s.facet_normals[face], strict=True):
            flat = cross(sub(tuple(t[1]), tuple(t[0])), sub(tuple(t[2]), tuple(t[0])))
            if dot(flat, flat) > 1e-12:
                assert abs(dot(unit(flat), tuple(n))) > 0.9
        single = [s.faces[face].surface.normal_at(tuple(p)) for p in corners.reshape(-1, 3)]
        for one, many in zip(single, normals, strict=True):
            assert one is None or distance(one, tuple(many)) < 1e-12
