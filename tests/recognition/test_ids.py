"""Ids come from a feature's own geometry. Truth by construction: two equal chamfers, one of them left out."""

import cadquery as cq


def block() -> cq.Workplane:
    return cq.Workplane().box(60, 40, 20, centered=False)


def test_an_equal_twin_that_goes_leaves_the_id_of_the_other(features_of):
    both = features_of(block().edges("|Z and >X").chamfer(3))
    one = features_of(block().edges("|Z and >X and >Y").chamfer(3))
    twins = {f.id for f in both.features if f.kind == "chamfer"}
    lone = [f.id for f in one.features if f.kind == "chamfer"]
    assert len(twins) == 2 and len(lone) == 1
    assert lone[0] in twins
    assert all(name.count("-") == 1 for name in twins)
