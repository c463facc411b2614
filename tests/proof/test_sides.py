"""Sides of a region: led on straight past their ends, laid on the outline, and nothing cleared behind them."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from planner import plan
from planner.proof.lumps import _faced
from planner.proof.plane import plane_of
from planner.proof.regions import Region, centres
from planner.proof.sides import leads_of, snapped, within
from shared.features import Side
from tests.setups.parts import bracket

WALL = shapely.LineString([(0.0, 4.6), (17.5, 6.7)])
STEP = shapely.Polygon([(0.0, 4.6), (17.5, 6.7), (17.5, 8.2), (0.0, 8.2)])
FLAT = plane_of(np.array([0.0, 0.0, 1.0]))


def side(a, b):
    length = float(np.hypot(b[0] - a[0], b[1] - a[1]))
    return Side(open=False, faces=[1], edges=[], length=length, start=(*a, 0.0), end=(*b, 0.0))


def test_past_a_walls_end_the_cutter_runs_straight_on():
    # Plane geometry: its centre never comes nearer to the wall's line, led on both ways, than its radius.
    leads = leads_of([WALL], [WALL], STEP)
    assert leads.length == pytest.approx(120.0)
    where = centres(Region(STEP, WALL, leads=leads), 10.0)
    across = np.array([-2.1, 17.5]) / np.hypot(2.1, 17.5)
    off = (shapely.get_coordinates(where) - [0.0, 4.6]) @ across
    assert not where.is_empty and off.min() > 10.0 - 1e-3
    round_it = centres(Region(STEP, WALL), 10.0)
    assert ((shapely.get_coordinates(round_it) - [0.0, 4.6]) @ across).min() < 9.0


def test_a_wall_that_another_one_meets_is_not_led_on():
    other = shapely.LineString([(17.5, 6.7), (17.5, 8.2)])
    assert leads_of([WALL], [WALL, other], STEP).length == pytest.approx(60.0)


def test_sides_on_chords_of_arcs_lie_on_the_outline():
    # An obround 1 mm wide whose straight side is said to start and end on the chords of its arcs, 0.0144 mm further in.
    obround = shapely.LineString([(0.0, 0.0), (10.0, 0.0)]).buffer(0.5, 64)
    said = shapely.LineString([(-0.1, 0.4856), (10.1, 0.4856)])
    laid = snapped(said, obround.boundary)
    assert shapely.get_coordinates(laid)[:, 1].min() > 0.48 and laid.bounds[3] == pytest.approx(0.5)
    across = shapely.LineString([(5.0, -0.5), (5.0, 0.5)])
    assert snapped(across, obround.boundary) == across


def test_behind_a_wall_that_runs_through_the_mouth_nothing_is_cleared():
    # A bevel on one side makes the mouth 6 mm longer than the floor; the floor's own wall stands at x = 10.
    mouth = shapely.box(0.0, 0.0, 16.0, 5.0)
    sides = [side((0, 0), (0, 5)), side((0, 5), (10, 5)), side((10, 5), (10, 0)), side((10, 0), (0, 0))]
    walls = [shapely.LineString([x.start[:2], x.end[:2]]) for x in sides]
    assert within(mouth, walls, sides, FLAT, np.eye(3)).bounds == pytest.approx((0.0, 0.0, 10.0, 5.0))
    turned = [side(x.end[:2], x.start[:2]) for x in sides]
    assert within(mouth, walls, turned, FLAT, np.eye(3)).bounds == pytest.approx((0.0, 0.0, 10.0, 5.0))
    assert within(shapely.box(0, 0, 10, 5), walls, sides, FLAT, np.eye(3)).area == pytest.approx(50.0)


def test_what_touches_no_face_belongs_to_the_face_beside_it():
    # Two cubes of one group: each point without a face goes to its own cube's, not to the group's largest.
    face = np.array([3, -1, 7, -1, -1])
    cube, group = np.array([0, 0, 1, 1, 2]), np.zeros(5, dtype=int)
    assert _faced(face, cube, group, np.array([9.0, 1.0, 1.0, 1.0, 1.0])).tolist() == [3, 3, 7, 7, 3]


def test_a_plan_without_the_shape_says_that_it_was_not_cut():
    document = plan(bracket().document())
    assert [f.severity for f in document.findings if f.code == "not_simulated"] == ["warning"]
    assert document.proof.simulation is None and document.proof.gouged is None


def test_a_plan_that_was_not_to_be_cut_says_so():
    document = plan(bracket().document(), {"simulate": False})
    assert {f.code for f in document.findings} & {"simulation_off", "not_simulated"} == {"simulation_off"}
