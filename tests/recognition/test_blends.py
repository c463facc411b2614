"""Chamfers, rounds and bevels where cuts meet. Truth by construction: blocks, bars and cylinders, cut in a known order."""

from collections import Counter

import cadquery as cq


def block(x: float = 60, y: float = 40, z: float = 30) -> cq.Workplane:
    return cq.Workplane().box(x, y, z, centered=False)


def bar(x: float, y: float, z: float, at: tuple[float, float, float]) -> cq.Workplane:
    return cq.Workplane().box(x, y, z, centered=False).translate(at)


def cylinder(x: float, y: float, top: float, depth: float, diameter: float) -> cq.Workplane:
    return cq.Workplane().workplane(offset=top - depth).center(x, y).circle(diameter / 2).extrude(depth)


def kinds(document) -> Counter:
    return Counter(f.kind for f in document.features if f.kind != "planar_face")


def test_a_cut_from_a_step_is_not_merged_with_it_by_the_radius_beside_its_wall(features_of):
    part = block().cut(bar(20, 40, 10, (0, 0, 20))).cut(bar(40, 8, 12, (20, 16, 18)))
    document = features_of(part.edges(cq.selectors.NearestToPointSelector((20, 8, 20))).fillet(3))
    assert kinds(document) == {"step": 1, "open_pocket": 1}, kinds(document)
    radius = next(f for f in document.features if f.kind == "step").blends
    assert {document.faces[f].surface for f in radius} == {"cylinder"}


def test_the_bevel_in_the_corner_of_two_walls_is_no_third_wall(features_of):
    pocket = block().cut(bar(30, 25, 10, (30, 15, 20)))
    document = features_of(pocket.edges(cq.selectors.NearestToPointSelector((30, 15, 25))).chamfer(4))
    corner = next(f for f in document.features if f.kind == "open_pocket")
    assert len(corner.blends) == 1 and corner.closed_sides == 2 and corner.open_sides == 2


def test_two_walls_at_an_obtuse_angle_with_a_long_one_between_are_three_walls(features_of):
    corner = cq.Workplane().polyline([(60, 40), (25, 40), (20, 35), (25, 30), (30, 15), (60, 15)]).close().extrude(10)
    document = features_of(block().cut(corner.translate((0, 0, 20))))
    cut = next(f for f in document.features if f.kind == "open_pocket")
    assert not cut.blends


def test_radius_above_a_bevelled_floor_edge_belongs_to_the_pocket(features_of):
    pocket = (
        block()
        .cut(bar(30, 20, 10, (15, 10, 20)))
        .edges("|Z")
        .edges(cq.selectors.BoxSelector((14, 9, 19), (46, 31, 31)))
    )
    rounded = pocket.fillet(6)
    foot = rounded.faces(cq.selectors.NearestToPointSelector((30, 20, 20))).edges().chamfer(2)
    document = features_of(foot)
    cut = next(f for f in document.features if f.kind == "closed_pocket")
    assert cut.closed_sides == 4 and len(cut.blends) == 12, (cut.closed_sides, cut.blends)


def test_counterbore_with_a_radius_at_its_foot_is_one_hole(features_of):
    part = block().cut(cylinder(30, 20, 30, 10, 16))
    part = part.faces(cq.selectors.NearestToPointSelector((30, 20, 20))).edges().fillet(2.5)
    document = features_of(part.cut(cylinder(30, 20, 30, 30, 10)))
    assert kinds(document) == {"counterbore_hole": 1}, kinds(document)


def test_chamfer_round_the_mouth_of_a_ring_groove_is_a_chamfer(features_of):
    ring = cylinder(30, 20, 30, 6, 12).cut(cylinder(30, 20, 30, 6, 4))
    mouth = cq.Solid.makeCone(6, 9, 3, cq.Vector(30, 20, 27), cq.Vector(0, 0, 1))
    island = cylinder(30, 20, 27, 27, 4)
    document = features_of(block().cut(ring).cut(cq.Workplane(mouth)).union(island))
    assert kinds(document)["chamfer"] == 1, kinds(document)


def test_a_tapered_mouth_is_part_of_its_hole_and_a_45_degree_one_a_chamfer(features_of):
    drilled = block().cut(cylinder(30, 20, 30, 30, 12))
    for half_angle_tan, kind in ((0.4, "countersunk_hole"), (1.0, "round_hole")):
        depth = 1.2 / half_angle_tan
        cone = cq.Solid.makeCone(6, 7.2, depth, cq.Vector(30, 20, 30 - depth), cq.Vector(0, 0, 1))
        found = kinds(features_of(drilled.cut(cq.Workplane(cone))))
        assert found[kind] == 1 and found["chamfer"] == (kind == "round_hole"), found


def test_ring_groove_crossed_by_a_slot_keeps_its_island(features_of):
    ring = cylinder(30, 20, 30, 4, 24).cut(cylinder(30, 20, 30, 4, 12))
    document = features_of(block().cut(ring).cut(bar(60, 3, 6, (0, 18.5, 24))))
    groove = next(f for f in document.features if any(document.faces[i].surface == "cylinder" for i in f.walls))
    assert groove.kind == "open_pocket" and groove.views[0].islands == 1, (groove.kind, groove.views[0].islands)


def test_step_wall_beside_a_rounded_edge_is_no_chamfer(features_of):
    corner = cq.Workplane().polyline([(40, 0), (60, 0), (60, 25)]).close().extrude(12).translate((0, 0, 18))
    part = block().cut(corner)
    part = part.edges(cq.selectors.NearestToPointSelector((40, 0, 24))).fillet(1.5)
    assert kinds(features_of(part)) == {"step": 1, "edge_round": 1}
