"""The simulation against closed forms: plane and solid geometry, each beside its source."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import shapely
from numpy.testing import assert_allclose

from planner.proof.cutter import profile_of
from planner.proof.fields import HeightField
from planner.proof.grown import Grown
from planner.proof.plane import plane_of
from planner.proof.rays import bundle
from planner.proof.regions import Region, centres, with_arcs
from planner.proof.strokes.surfaces import _swept
from planner.proof.sweeps import DISC, Slab, Turned
from planner.proof.target import patches_of, stock_on
from shared.plan import Tool

NO_PART = patches_of(np.empty((0, 3, 3)), np.empty((0, 3), dtype=int), np.empty(0, dtype=int))
UP = plane_of(np.array([0.0, 0.0, 1.0]))
SLANTED = plane_of(np.array([0.36, 0.48, 0.8]))


def removed(sweeps, size=(60.0, 50.0, 30.0), fine=0.1):
    """Mm3 that sweeps take off a block with a corner at the origin, by each bundle."""
    low, high = np.zeros(3), np.array(size)
    out = []
    for axis in range(3):
        rays = bundle(axis, low, high, fine)
        material = stock_on(rays, NO_PART, low, high)
        for sweep in sweeps:
            material, (taken,) = material.cut([sweep.cuts(rays)])
            out.append((axis, rays.cell * taken.length.sum()))
    return [sum(v for a, v in out if a == axis) for axis in range(3)]


@pytest.mark.parametrize("diameter", [6.0, 10.0, 16.0])
def test_a_cutter_leaves_its_radius_in_each_sharp_corner(diameter):
    # Plane geometry: a square corner keeps r^2 - pi r^2 / 4 = (1 - pi/4) D^2 / 4.
    pocket = shapely.box(10, 10, 50, 40)
    where = centres(Region(pocket, shapely.boundary(pocket)), diameter / 2)
    left = pocket.area - where.buffer(diameter / 2, DISC).area
    assert_allclose(left, 4 * (1 - math.pi / 4) * diameter**2 / 4, rtol=2e-3)
    volumes = removed([Slab(UP, where.buffer(diameter / 2, DISC), 20.0, math.inf)])
    assert_allclose(volumes, 10 * (pocket.area - left), rtol=2e-3)


def test_a_helical_bore_takes_its_cylinder():
    # Solid geometry: an end mill of 12 mm on a helix of radius 4 mm makes 20 mm; pi/4 D^2 h.
    profile = profile_of(Tool(id="m", kind="endmill", DC=12.0))
    bore = Turned(UP, (30.0, 25.0), 5.0, profile.heights, profile.radii + 4.0)
    assert_allclose(removed([bore]), math.pi / 4 * 20**2 * 25, rtol=4e-3)


def test_a_drill_takes_a_cylinder_and_its_point():
    # Solid geometry: pi r^2 (h + r / (3 tan 59 deg)); 118 degrees is the usual point (ISO 5419 calls it 2 kappa).
    profile = profile_of(Tool(id="d", kind="twist_drill", DC=10.0, SIG=118.0))
    point = 5.0 / math.tan(math.radians(59.0))
    drill = Turned(UP, (30.0, 25.0), 20.0 - point, profile.heights, profile.radii)
    assert_allclose(removed([drill]), math.pi * 25 * (10.0 + point / 3), rtol=4e-3)


def test_a_tee_slot_takes_neck_and_foot():
    # Plane geometry: length x (neck x neck height + foot x foot height); cutter neck in the slot's own neck.
    neck = Slab(UP, shapely.box(-1, 20, 61, 30), 10.0, math.inf)
    foot = Slab(UP, shapely.box(-1, 16, 61, 34), 10.0, 18.0)
    assert_allclose(removed([neck, foot]), 60 * (10 * 12 + 18 * 8), rtol=2e-3)


def test_a_slanted_prism_is_as_large_as_an_upright_one():
    # Solid geometry: turning a prism that lies wholly in the block keeps its volume.
    middle = SLANTED.flat(np.array([30.0, 25.0, 15.0]))
    level = float(np.array([30.0, 25.0, 15.0]) @ SLANTED.d)
    prism = Slab(SLANTED, shapely.Point(middle).buffer(6.0, DISC), level - 4.0, level + 4.0)
    assert_allclose(removed([prism]), math.pi * 36 * 8, rtol=4e-3)


def grown(where, tool, tip=20.0, plane=UP):
    profile = profile_of(tool)
    return Grown(plane, where, tip + profile.heights, profile.radii)


def test_a_ball_sinks_a_round_groove():
    # Plane geometry: half a disc of 5 mm, and 10 mm wide over it, on 60 mm.
    ball = grown(shapely.LineString([(-20, 25), (80, 25)]), Tool(id="b", kind="ball_endmill", DC=10.0, RE=5.0))
    assert_allclose(removed([ball]), 60 * (math.pi * 25 / 2 + 10 * 5), rtol=4e-3)


def test_a_round_edged_cutter_leaves_its_radius_at_the_foot():
    # Steiner's formula: all within r of a rectangle a x b covers ab + 2 (a + b) r + pi r^2; over the edge radius RE the
    # cutter's radius is R - RE + sqrt(2 RE h - h^2), whose mean is R - RE + RE pi / 4 and mean square (R - RE)^2 +
    # 2 (R - RE) RE pi / 4 + 2/3 RE^2.
    a, b, big, edge, deep = 12.0, 8.0, 6.0, 2.0, 10.0
    straight = big - edge
    mean = straight + edge * math.pi / 4
    square = straight**2 + 2 * straight * edge * math.pi / 4 + edge**2 * 2 / 3
    foot = edge * (a * b + 2 * (a + b) * mean + math.pi * square)
    above = (deep - edge) * (a * b + 2 * (a + b) * big + math.pi * big**2)
    cutter = grown(shapely.box(20, 20, 20 + a, 20 + b), Tool(id="r", kind="bullnose_endmill", DC=2 * big, RE=edge))
    assert_allclose(removed([cutter]), foot + above, rtol=3e-3)


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_dovetail_cutter_leaves_its_flanks(way):
    # Plane geometry: a foot of 16 mm, flanks of 60 degrees over 5 mm, and its neck's slot above.
    tool = Tool(id="d", kind="dovetail_mill", DC=16.0, APMX=5.0, SIG=60.0, DN=8.0)
    narrow = 16.0 - 2 * 5.0 / math.tan(math.radians(60.0))
    profile = profile_of(tool)
    levels = np.concatenate([profile.heights, [5.0, 5.0]])
    radii = np.concatenate([profile.radii, [profile.radii[-1], profile.neck]])
    line = shapely.LineString([(-20, 25), (80, 25)])
    cut = Grown(plane_of(np.array([0.0, 0.0, way])), line, (18.0 if way > 0 else -12.0) + levels, radii)
    assert_allclose(removed([cut], fine=0.05), 60 * ((16.0 + narrow) / 2 * 5.0 + 8.0 * 7.0), rtol=3e-3)


def test_crossing_bevels_count_once():
    # Solid geometry: two grooves with a section of s^2 each share 4/3 s^3 where they cross.
    size, points = 4.0, np.linspace(-20.0, 80.0, 41)
    pieces = [[(x, 25), (y, 25)] for x, y in itertools.pairwise(points)]
    pieces += [[(30, x), (30, y)] for x, y in itertools.pairwise(points)]
    cut = Grown(UP, shapely.MultiLineString(pieces), np.array([30.0 - size, 30.0]), np.array([0.0, size]))
    assert_allclose(removed([cut], fine=0.03), (60 + 50) * size**2 - 4 / 3 * size**3, rtol=5e-3)


def test_a_profile_swept_aslant_is_as_large_as_an_upright_one():
    # Solid geometry: a cone of 6 mm radius and 6 mm height wholly in the block, and nothing over it but what is cut off.
    middle = np.array([30.0, 25.0, 15.0])
    tip = float(middle @ SLANTED.d)
    cone = Grown(SLANTED, shapely.Point(SLANTED.flat(middle)), tip + np.array([0, 6, 6]), np.array([0, 6, 0.0]))
    assert_allclose(removed([cone], fine=0.2), math.pi * 36 * 2, rtol=2e-2)


@pytest.mark.parametrize(("radius", "step"), [(5.0, 1.2), (3.0, 0.9), (8.0, 2.4)])
def test_a_ball_leaves_scallops_of_the_handbook_height(radius, step):
    # Common practice: h = ae^2 / (8 R) approximately; exactly R - sqrt(R^2 - ae^2 / 4).
    cell = step / 6
    tips = np.where(np.arange(121)[None, :] % 6 == 0, 0.0, np.inf) + np.zeros((121, 1))
    lowest = _swept(tips, profile_of(Tool(id="b", kind="ball_endmill", DC=2 * radius, RE=radius)), cell)
    inner = lowest[40:80, 40:80]
    exact = radius - math.sqrt(radius**2 - step**2 / 4)
    assert_allclose(inner.max(), exact, rtol=0.02)  # the ball is 48 chords a quarter
    assert_allclose(exact, step**2 / (8 * radius), rtol=0.02)


def test_a_height_field_takes_what_lies_above_it():
    # Solid geometry: a wedge under a plane that falls from 20 to 10 over 40 mm, 30 mm wide: the mean height is 15.
    grid = np.linspace(20.0, 10.0, 81)[:, None] + np.zeros((1, 61))
    field = HeightField(UP, np.array([10.0, 10.0]), 0.5, grid)
    assert_allclose(removed([field]), 40 * 30 * (30 - 15), rtol=5e-3)


def test_arcs_given_as_chords_become_round_again():
    # Plane geometry: 36 chords in a circle of 20 mm enclose 0.5 % less than it.
    at = np.radians(np.arange(0, 360, 10))
    ring = 10 * np.column_stack([np.cos(at), np.sin(at)])
    assert shapely.Polygon(ring).area < 0.996 * math.pi * 100
    assert_allclose(shapely.Polygon(with_arcs(ring)).area, math.pi * 100, rtol=1e-4)


def test_a_hexagon_stays_a_hexagon():
    at = np.radians(np.arange(0, 360, 60))
    ring = 10 * np.column_stack([np.cos(at), np.sin(at)])
    assert len(with_arcs(ring)) == 6
