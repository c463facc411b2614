"""Volumes of the solids that removal bodies are made of. All values from plane geometry."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from shapely import Point, Polygon, box

from recognizer.removal.arcs import Circle, arc_points, disc, refined
from recognizer.removal.body import Body
from recognizer.removal.field import Field
from recognizer.removal.polyhedra import manifold_of
from recognizer.removal.revolve import Revolve
from recognizer.removal.solids import Half, Prism, Solid, clipped
from recognizer.removal.union import first_come_volumes

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
LOW, HIGH = (-50.0, -50.0, -50.0), (50.0, 50.0, 50.0)


def upright(region, low: float, high: float, halves: tuple[Half, ...] = ()) -> Prism:
    return Prism(Z, X, Y, region, low, high, halves)


def measured(solid: Solid) -> float:
    """Volume of its triangles."""
    return float(manifold_of(solid).volume())


def test_disc_keeps_the_area_of_its_circle():
    assert disc(3, 4, 7).area == pytest.approx(pi * 49, rel=1e-12)


@pytest.mark.parametrize("sweep", [0.05, 0.5, 1.0, pi / 2, pi, 5.0])
def test_arc_keeps_the_area_of_its_sector(sweep):
    sector = Polygon([(0, 0), *arc_points((0, 0), 10.0, 0.3, 0.3 + sweep)])
    assert sector.area == pytest.approx(10 * 10 * sweep / 2, rel=1e-9)


def test_chords_of_ten_degrees_become_the_circle_again():
    coarse = Point(1, 2).buffer(5, quad_segs=9)
    assert coarse.area < 0.996 * pi * 25
    assert refined(coarse, [Circle(1, 2, 5)]).area == pytest.approx(pi * 25, rel=1e-6)


def test_a_square_is_left_alone_by_a_circle_through_its_corners():
    square = box(-1, -1, 1, 1)
    assert refined(square, [Circle(0, 0, 2**0.5)]).equals(square)


def test_half_plane_keeps_its_side():
    assert clipped(box(0, 0, 4, 2), 1.0, 0.0, 3.0).area == pytest.approx(6)
    assert clipped(box(0, 0, 4, 2), 1.0, 1.0, 2.0).area == pytest.approx(2)


def test_triangles_of_an_upright_prism_give_its_volume():
    solid = upright(Polygon([(0, 0), (10, 0), (10, 4), (3, 8)]), -2, 5)
    assert measured(solid) == pytest.approx(solid.volume, rel=1e-9)


def test_a_prism_with_a_hole_in_its_region():
    ring = box(0, 0, 10, 10).difference(box(2, 2, 5, 5))
    assert measured(upright(ring, 1, 3)) == pytest.approx((100 - 9) * 2, rel=1e-9)


def test_triangles_of_a_slanting_prism_give_base_times_length():
    d = (2 / 7, 3 / 7, 6 / 7)
    u = (3 / 7, -6 / 7, 2 / 7)
    v = tuple(np.cross(d, u))
    assert measured(Prism(d, u, v, box(0, 0, 3, 2), 0.0, 7.0)) == pytest.approx(42.0, rel=1e-9)


def test_half_space_makes_a_wedge_of_half_the_block():
    wedge = upright(box(0, 0, 4, 3), 0, 4, (Half((2**-0.5, 0.0, 2**-0.5), 4 * 2**-0.5),))
    assert wedge.volume == pytest.approx(24)
    assert measured(wedge) == pytest.approx(24)


def test_two_half_spaces_make_a_vee():
    """10 wide, 5 deep, 20 long."""
    halves = (Half((2**-0.5, 0.0, -(2**-0.5)), 5 * 2**-0.5), Half((-(2**-0.5), 0.0, -(2**-0.5)), -5 * 2**-0.5))
    assert measured(upright(box(0, 0, 10, 20), 0, 5, halves)) == pytest.approx(10 * 5 / 2 * 20, rel=1e-9)


@pytest.mark.parametrize("axis", [X, Y, Z])
def test_triangles_of_a_cone_give_a_third_of_base_times_height(axis):
    cone = Revolve((1, 2, 3), axis, Polygon([(0, 0), (0, 3), (6, 0)]))
    assert cone.volume == pytest.approx(pi * 9 * 6 / 3, rel=1e-12)
    assert measured(cone) == pytest.approx(cone.volume, rel=1e-6)


def test_torus_by_the_rule_of_pappus():
    tube = Revolve((0, 0, 0), X, disc(0, 10, 2))
    assert tube.volume == pytest.approx(2 * pi * 10 * pi * 4, rel=1e-9)
    assert measured(tube) == pytest.approx(tube.volume, rel=1e-6)


def test_quarter_turn_is_a_quarter_of_the_ring():
    quarter = Revolve((0, 0, 0), Z, box(0, 2, 5, 4), pi / 2, (Half((-1.0, 0.0, 0.0), 0.0), Half((0.0, -1.0, 0.0), 0.0)))
    assert quarter.volume == pytest.approx(pi * (16 - 4) * 5 / 4)
    assert measured(quarter) == pytest.approx(quarter.volume, rel=1e-6)


@pytest.mark.parametrize("above", [True, False])
def test_columns_over_and_under_a_tilted_triangle(above):
    base, level = np.array([[0.0, 3.0, 3.0]]), 5.0 if above else -1.0
    field = Field(Z, X, Y, np.array([[(0, 0), (6, 0), (0, 6)]], dtype=float), base, level, above)
    assert field.volume == pytest.approx(18 * abs(level - 2))
    assert measured(field) == pytest.approx(field.volume, rel=1e-9)


def test_facets_that_were_lifted_by_different_heights_keep_their_volume():
    triangles = np.array([[(0, 0), (6, 0), (0, 6)], [(6, 0), (6, 6), (0, 6)]], dtype=float)
    field = Field(Z, X, Y, triangles, np.array([[0.0, 3.0, 3.0], [3.02, 6.02, 3.02]]), 9.0, True)
    assert measured(field) == pytest.approx(18 * (9 - 2) + 18 * (9 - 4.02), rel=1e-9)


def test_columns_that_overlap_count_once_where_they_do():
    """Two facets of a face that is seen twice: two columns in all, one where they stand in each other."""
    triangles = np.array([[(0, 0), (6, 0), (0, 6)]] * 2, dtype=float)
    field = Field(Z, X, Y, triangles, np.array([[0.0, 0.0, 0.0], [2.0, 2.0, 2.0]]), 5.0, True)
    block = Body("b", [upright(box(-1, -1, 7, 7), 0, 5)])
    first, rest = first_come_volumes([Body("a", [field]), block], LOW, HIGH)
    assert rest == pytest.approx(8 * 8 * 5 - 18 * 5)


def test_points_inside_are_told_from_points_outside():
    solids = [upright(box(0, 0, 4, 4), 0, 4), Revolve((2, 2, 0), Z, box(0, 0, 4, 2))]
    for s in solids:
        assert s.contains(np.array([(2.0, 2.0, 2.0), (2.0, 2.0, 5.0), (2.0, 4.5, 2.0)]), 0.01).tolist() == [
            True,
            False,
            False,
        ]


def test_fill_is_taken_off_its_body():
    body = Body("a", [upright(box(0, 0, 10, 10), 0, 10)], [upright(box(0, 0, 1, 10), 0, 1)], disjoint=True)
    assert first_come_volumes([body], LOW, HIGH) == [pytest.approx(990)]
