"""Convex polygons in plain numbers against shapely, a general-purpose library for plane geometry."""

import random
from math import cos, pi, sin

import numpy as np
import pytest
import shapely
from shapely import MultiPoint, Polygon

from recognizer import convex
from recognizer.outline import _united


def clouds() -> list[list[tuple[float, float]]]:
    dice = random.Random(3)
    free = [
        [(dice.uniform(0, width), dice.uniform(-20, 20)) for _ in range(count)]
        for width in (1, 30, 200)
        for count in (3, 4, 6, 40)
        for _ in range(5)
    ]
    plates = [[(0.0, 0.0), (a, 0.0), (a, b), (0.0, b)] for a, b in ((10.0, 10.0), (80.0, 3.0), (0.5, 40.0))]
    obround = [(x + 5 * cos(t * pi / 18), 5 * sin(t * pi / 18)) for x, t in [(20 * (s < 18), s - 9) for s in range(36)]]
    return [*free, *plates, obround]


@pytest.mark.parametrize("points", clouds())
def test_hull_area_and_bounds_are_those_of_shapely(points):
    ring, hull = convex.hull(points), MultiPoint(points).convex_hull
    assert [c for q in ring for c in q] == pytest.approx([c for q in hull.exterior.coords[:-1] for c in q], abs=1e-9)
    assert convex.area(ring) == pytest.approx(hull.area, rel=1e-9)
    assert convex.bounds(ring) == pytest.approx(hull.bounds)
    assert convex.is_convex(ring)


@pytest.mark.parametrize("points", clouds())
def test_inscribed_circle_is_that_of_shapely(points):
    ring = convex.hull(points)
    found = shapely.maximum_inscribed_circle(Polygon(ring), tolerance=1e-5).length
    assert convex.inscribed_radius(ring) == pytest.approx(found, abs=2e-5)


@pytest.mark.parametrize("points", clouds())
def test_cut_is_that_of_shapely(points):
    ring = convex.hull(points)
    x, y = Polygon(ring).centroid.coords[0]
    for turn in range(0, 360, 40):
        n = (cos(turn * pi / 180), sin(turn * pi / 180))
        c = n[0] * x + n[1] * y + 0.3
        far = [
            (n[0] * c + u * n[1] * 1e3 + v * n[0], n[1] * c - u * n[0] * 1e3 + v * n[1])
            for u, v in ((-1, 0), (1, 0), (1, 1e3), (-1, 1e3))
        ]
        left = Polygon(ring).intersection(Polygon(far))
        found = convex.cut(ring, n, c)
        assert (convex.area(found) if found else 0.0) == pytest.approx(left.area, rel=1e-6, abs=1e-6)


def test_corners_on_a_side_and_double_corners_change_no_circle():
    """An arc's chords end in corners a few nanometres apart: truth by arithmetic, the side of a square halved."""
    ring = [(0.0, 0.0), (0.0, 5.0), (1e-9, 10.0), (1e-9, 10.0 + 1e-9), (10.0, 10.0), (10.0, 0.0), (4.0, -1e-10)]
    assert convex.inscribed_radius(ring) == pytest.approx(5.0, abs=1e-6)


def test_a_star_and_a_notched_ring_are_not_convex():
    star = [
        (cos(-k * 4 * pi / 5), sin(-k * 4 * pi / 5)) for k in range(5)
    ]  # turns right at every corner, but twice round
    notched = [(0.0, 0.0), (0.0, 4.0), (2.0, 3.0), (4.0, 4.0), (4.0, 0.0)]
    assert not convex.is_convex(star)
    assert not convex.is_convex(notched)


def test_facets_that_show_one_side_are_united_like_any_others():
    """A dome's facets seen from above and from beside, against the general union of shapely."""
    steps = [(i * pi / 8, (i + 1) * pi / 8) for i in range(16)]
    rings = [(0.9, 0.5, 0.0, 0.7), (0.5, 0.01, 0.7, 0.9)]
    corners = np.array(
        [
            [(r0 * cos(a), r0 * sin(a), z0), (r0 * cos(b), r0 * sin(b), z0), (r1 * cos(a), r1 * sin(a), z1)]
            for r0, r1, z0, z1 in rings
            for a, b in steps
        ]
    )
    for axes in ((0, 1), (0, 2)):
        flat = corners[:, :, axes]
        united = _united(flat)
        assert united.symmetric_difference(shapely.unary_union(shapely.polygons(flat))).area < 1e-9
