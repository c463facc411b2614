"""A part's reach document in the plan: no feature from a side, and with no cutter, that cannot cut it.

Parts are cut here with plain figures, so what a cutter touches follows by eye; no outside source.
"""

from __future__ import annotations

import cadquery as cq
import pytest

from planner import plan
from recognizer import reach, recognize
from shared.carried import CarriedReach
from shared.features import FeaturesDocument
from shared.shape import CarriedShape


@pytest.fixture
def read(tmp_path):
    """A shape -> its features and its reach document."""

    def made(shape):
        path = tmp_path / "part.step"
        cq.exporters.export(shape, str(path))
        return recognize(path), reach(path)

    return made


def box(x, y, z, at=(0.0, 0.0, 0.0)):
    return cq.Workplane("XY").box(x, y, z, centered=False).translate(at)


@pytest.fixture
def pocketed(read):
    """A block with a pocket 20 x 30 x 15 mm, sides upright, and a drilled hole with a countersink."""
    part = box(80, 60, 30).cut(box(20, 30, 15, (20, 15, 15)))
    return read(part.faces(">Z").workplane(origin=(60, 30, 30)).cskHole(5.5, 11.0, 90.0))


def operations(result):
    return [op for s in result.setups for op in s.operations]


def test_a_sound_part_is_planned_the_same_with_and_without(pocketed):
    """Drills and countersinks have the form of what they make: that no end mill touches it refutes nothing."""
    features, touched = pocketed
    without, with_ = plan(features, {"reach": False}), plan(features, reach=touched)
    assert with_.proof.checker == [] and with_.unplanned == []
    assert [op.model_dump() for op in operations(with_)] == [op.model_dump() for op in operations(without)]
    assert with_.job.reach and not without.job.reach


def test_a_side_that_nothing_touches_is_not_planned_from(pocketed):
    """The pocket is told to be untouched from above, its only side: it is not planned, and the finding says why."""
    features, touched = pocketed
    name = next(f for f in features.features if f.kind == "closed_pocket")
    for face in name.faces:
        for view in touched.faces[face].views:
            view.touched = 0.0
    result = plan(features, reach=touched)
    assert [u.feature for u in result.unplanned] == [name.id]
    assert any(f.code == "side_not_reached" and name.id in f.features for f in result.findings)


def test_the_gap_that_was_measured_limits_the_cutter(pocketed):
    """The pocket is 20 mm wide; where reach says that only 2.5 mm pass, its walls are finished with no more."""
    features, touched = pocketed
    pocket = next(f for f in features.features if f.kind == "closed_pocket")

    def finishing(result):
        return [op.tool.DC for op in operations(result) if pocket.id in op.features and op.name == "finish walls"]

    wall = touched.faces[pocket.walls[0]]
    up = next(k for k, d in enumerate(touched.directions) if d.vector[2] > 0.99)
    seen = next(v for v in wall.views if v.direction == up)
    seen.fits = 2.5
    seen.blockers = [b.model_copy(update={"reason": "gap_too_narrow"}) for b in seen.blockers]
    assert seen.blockers, "its sharp corners are in the way of every cutter"
    assert max(finishing(plan(features, reach=touched))) <= 2.5 < max(finishing(plan(features, {"reach": False})))


def test_the_checker_asks_the_reach_document_too(pocketed):
    """Touched only a little, the pocket is still planned; but a face that nothing touches is an error of the plan."""
    features, touched = pocketed
    pocket = next(f for f in features.features if f.kind == "closed_pocket")
    wall = pocket.walls[0]
    for view in touched.faces[wall].views:
        view.touched, view.blockers = 0.0, []
    found = plan(features, reach=touched).proof.checker
    assert {f.code for f in found} == {"not_reached_from_here"} and {i for f in found for i in f.faces} == {wall}


def test_a_short_wall_in_a_corner_is_no_fault_where_the_corner_is_said(pocketed):
    """The pocket's corners are sharp and the plan says so: a wall that lies wholly in one stays, whatever the cutter."""
    features, touched = pocketed
    pocket = next(f for f in features.features if f.kind == "closed_pocket")
    wall = touched.faces[pocket.walls[0]]
    for view in wall.views:
        corner = [b for b in view.blockers if b.reason == "corner_too_tight"]
        view.touched, view.blockers = 0.0, [b.model_copy(update={"share": 1.0}) for b in corner]
    result = plan(features, reach=touched)
    assert result.proof.checker == [] and any(f.code == "sharp_corner" for f in result.findings)


def test_corners_do_not_shut_a_side_but_a_floor_that_is_not_touched_does(pocketed):
    """A hexagon just wider than the cutter is cut but for its corners: little of its walls is touched, all of its floor."""
    features, touched = pocketed
    pocket = next(f for f in features.features if f.kind == "closed_pocket")
    for face in pocket.walls:
        for view in touched.faces[face].views:
            view.touched = 0.3
            view.blockers = [
                b.model_copy(update={"share": 0.7, "reason": "corner_too_tight"}) for b in view.blockers[:1]
            ]
    assert plan(features, reach=touched).unplanned == []
    for view in touched.faces[pocket.bottom[0]].views:
        view.touched = 0.4
    assert [u.feature for u in plan(features, reach=touched).unplanned] == [pocket.id]


def test_reach_is_asked_unless_it_is_switched_off(pocketed):
    """Features that come from the part bring the means along: no document has to be passed."""
    features, touched = pocketed
    by_itself, given, without = plan(features), plan(features, reach=touched), plan(features, {"reach": False})
    assert by_itself.to_json() == given.to_json()
    assert by_itself.proof.reach is not None and by_itself.proof.reach.checked and by_itself.job.reach
    assert (
        without.proof.reach is not None
        and not without.proof.reach.checked
        and "switched" in without.proof.reach.because
    )


def test_features_without_the_part_say_that_nothing_was_checked(pocketed):
    """From JSON alone nobody can tell what cutters touch: the plan is made, and says so."""
    alone = plan(FeaturesDocument.from_json(pocketed[0].to_json()))
    assert alone.setups and alone.proof.reach is not None and not alone.proof.reach.checked and not alone.job.reach
    assert "without the part" in alone.proof.reach.because


def test_an_analysis_that_fails_costs_the_check_not_the_plan(pocketed):
    """The plan is made and says why it was not checked."""

    def fails(table):
        raise ArithmeticError("no luck")

    features = pocketed[0].model_copy()
    features.carry(CarriedShape(), CarriedReach(fails))
    result = plan(features)
    assert result.setups and result.proof.reach is not None and not result.proof.reach.checked
    assert "ArithmeticError: no luck" in result.proof.reach.because
