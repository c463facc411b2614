"""Passages that cross at one level. Truth by construction: two square bars cut through a block."""

from collections import Counter

import cadquery as cq


def test_two_passages_of_one_height_that_cross_are_two_features(features_of):
    block = cq.Workplane().box(60, 60, 30, centered=False)
    along_x = cq.Workplane().box(60, 10, 8, centered=False).translate((0, 20, 10))
    along_y = cq.Workplane().box(12, 60, 8, centered=False).translate((30, 0, 10))
    document = features_of(block.cut(along_x).cut(along_y))
    kinds = Counter(f.kind for f in document.features)
    assert kinds == {"planar_face": 6, "closed_pocket": 2}, kinds
    sizes = sorted(
        (f.dimensions["length"], f.dimensions["width"], f.dimensions["depth"])
        for f in document.features[:]
        if f.kind == "closed_pocket"
    )
    assert sizes == [(10.0, 8.0, 60.0), (12.0, 8.0, 60.0)], sizes
    assert all(face.feature for face in document.faces)
