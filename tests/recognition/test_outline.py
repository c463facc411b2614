"""Outlines of regions. Truth by arithmetic: each part is a block and one cut of stated sizes."""

from math import pi

import cadquery as cq
import pytest


def cut(tool: cq.Workplane) -> cq.Workplane:
    return cq.Workplane().box(100, 80, 20, centered=(True, True, False)).cut(tool)


def sketch() -> cq.Workplane:
    return cq.Workplane().workplane(offset=12)


def pocket(document):
    return next(f for f in document.features if f.kind in ("closed_pocket", "open_pocket")).views[0]


def turned(part: cq.Workplane) -> cq.Workplane:
    return cq.Workplane(part.val().rotate((0, 0, 0), (1, 2, 3), 37.3))


def test_arc_sides_are_as_long_as_their_arcs(features_of):
    view = pocket(features_of(cut(sketch().slot2D(40, 10).extrude(8))))
    assert sorted(s.length for s in view.sides) == pytest.approx([5 * pi, 5 * pi, 30, 30], rel=1e-4)


def test_quarter_arc_next_to_a_step_is_a_quarter_arc(features_of):
    """The step eats the pocket's far part: the arc's tangent would run on through the step to the block's side."""
    part = cut(cq.Workplane().box(60, 80, 20, centered=False).translate((-50, -40, 8)))
    part = part.cut(cq.Workplane().center(50, 40).circle(9).extrude(6))
    arcs = [s for f in features_of(part).features for v in f.views for s in v.sides if s.radius == pytest.approx(9)]
    assert arcs and all(s.length == pytest.approx(9 * pi / 2, rel=1e-3) for s in arcs)


@pytest.mark.parametrize("place", [lambda p: p, turned])
def test_extents_of_an_obround_hold_however_the_part_lies(features_of, place):
    view = pocket(features_of(place(cut(sketch().slot2D(40, 10).extrude(8)))))
    assert (view.length, view.width) == pytest.approx((40, 10), abs=1e-3)


def test_extents_of_a_scaled_obround(features_of):
    part = cq.Workplane(cut(sketch().slot2D(40, 10).extrude(8)).val().scale(0.2))
    view = pocket(features_of(part))
    assert (view.length, view.width) == pytest.approx((8, 2), abs=1e-3)


ISLANDS = sketch().rect(80, 60).extrude(8).cut(sketch().pushPoints([(-9, 0), (9, 0)]).circle(7).extrude(8))
ELL = sketch().polyline([(-30, -20), (20, -20), (20, -8), (-14, -8), (-14, 24), (-30, 24)]).close().extrude(8)
GAPS = {
    "rectangle": (sketch().rect(40, 25).extrude(8), 25),
    "obround": (sketch().slot2D(40, 10).extrude(8), 10),
    "ring groove": (sketch().circle(30).circle(18).extrude(8), 12),
    "thin ring groove": (sketch().circle(38).circle(36).extrude(8), 2),
    "island and wall": (sketch().rect(80, 60).rect(50, 40).extrude(8), 10),
    "two islands 4 apart": (ISLANDS, 4),
    "open slot": (sketch().rect(100, 12).extrude(8), 12),
    "L": (ELL, 12),
    "L with round corners": (ELL.edges("|Z").fillet(3), 12),
}


@pytest.mark.parametrize("name", GAPS)
def test_narrowest_gap(features_of, name):
    tool, gap = GAPS[name]
    kinds = ("closed_pocket", "open_pocket", "slot")
    view = next(f for f in features_of(cut(tool)).features if f.kind in kinds).views[0]
    assert view.narrowest_gap == pytest.approx(gap, rel=0.005)


def test_a_round_edge_between_two_walls_does_not_open_a_pocket(features_of):
    feature = next(f for f in features_of(cut(ELL.edges("|Z").fillet(3))).features if f.kind.endswith("pocket"))
    assert (feature.kind, feature.open_sides, feature.closed_sides) == ("closed_pocket", 0, 6)


def test_sides_next_to_arcs_are_as_long_as_drawn(features_of):
    """A square pocket with corner radii, turned: a wall must not run on along the last tangent of its arc."""
    view = pocket(features_of(turned(cut(sketch().rect(48, 48).extrude(8).edges("|Z").fillet(6)))))
    straight = sorted(s.length for s in view.sides if not s.corner)
    assert straight == pytest.approx([36] * 4, abs=1e-4)


def test_room_past_two_open_sides_has_no_slit_between_them(features_of):
    """A step at a block's corner: however the sides are counted, the same disc fits between its two walls' free sides."""
    tool = cq.Workplane().box(60, 60, 20, centered=False).translate((10, 0, 12))
    widths = []
    for k in range(4):
        part = cut(tool).rotate((0, 0, 0), (0, 0, 1), 90 * k)
        view = next(f for f in features_of(part).features if f.kind == "open_pocket").views[0]
        widths.append(view.narrowest_gap)
    assert widths == pytest.approx([widths[0]] * 4, rel=1e-6)
