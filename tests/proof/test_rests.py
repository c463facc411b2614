"""What stays and why: inner edges in closed form, pieces that come off, a cutter without room."""

from __future__ import annotations

import math
from pathlib import Path

import cadquery as cq
import numpy as np
import pytest
from numpy.testing import assert_allclose

from planner import plan
from planner.checker import check
from planner.proof.corners import corners_of
from planner.proof.groups import cube_groups
from planner.proof.lumps import Lump
from planner.proof.prove import prove
from planner.proof.rests import is_loose
from planner.proof.scene import scene_of
from recognizer import recognize

MODELS = Path(__file__).resolve().parents[2] / "models"


@pytest.fixture(scope="module")
def part():
    return recognize(MODELS / "cable_block.step")


@pytest.fixture(scope="module")
def scene(part):
    return scene_of(plan(part, {"simulate": False}), part, part.shape)


def test_inner_edges_of_a_block_with_cuts_are_square(scene):
    corners = corners_of(scene)
    assert len(corners.ends)
    assert_allclose(corners.free[corners.free < 2.0], math.pi / 2, atol=1e-3)


def test_a_rest_in_an_inner_edge_is_no_larger_than_the_closed_form(scene):
    # Plane geometry: a square corner keeps (1 - pi/4) r^2 along its length; 1.3 times that is let pass.
    corners = corners_of(scene)
    k = int(np.argmax(np.linalg.norm(corners.ends[:, 1] - corners.ends[:, 0], axis=1)))
    one = type(corners)(corners.ends[k : k + 1], corners.faces[k : k + 1], corners.free[k : k + 1])
    length = float(np.linalg.norm(one.ends[0, 1] - one.ends[0, 0]))
    middle = one.ends[0].mean(axis=0)
    exact = (1.0 - math.pi / 4.0) * 3.0**2 * length
    assert one.hold(3.0, middle, exact)
    assert not one.hold(3.0, middle, 2.0 * exact + 10.0)
    far = middle + 10.0 * np.cross(one.ends[0, 1] - one.ends[0, 0], [0.3, 0.5, 0.7]) / length
    assert not one.hold(3.0, far, exact)


def test_cubes_that_touch_at_a_corner_hang_together():
    found = cube_groups(np.array([[1, 1, 1], [2, 2, 2], [9, 9, 9], [2, 3, 2], [9, 8, 9]]))
    assert found[0] == found[1] == found[3] and found[2] == found[4] and found[0] != found[2]


def test_what_hangs_on_nothing_has_come_off(scene):
    corner = scene.raw_high - 0.2
    assert is_loose(scene, Lump(1.0, 1.0, corner, -1))
    assert not is_loose(scene, Lump(1.0, 1.0, corner, 3))
    assert not is_loose(scene, Lump(1.0, 1.0, scene.corners[0].mean(axis=0) + 0.1, -1))


def test_a_cutter_too_wide_for_its_pocket_is_a_fault():
    carrier = recognize(MODELS / "altitude_carrier.step")
    broken = plan(carrier, {"simulate": False})
    every = [op for s in broken.setups for op in s.operations]
    op = next(op for op in every if "closed pocket" in op.name)
    op.tool = op.tool.model_copy(update={"DC": 80.0})
    prove(broken, carrier, carrier.shape, 0.4)
    assert any(f.code == "no_room" and op.id in f.message for f in check(broken, carrier))


def test_a_pocket_that_is_not_cut_is_no_corner():
    # Its sharp corners are named, but so much does not stay in corners.
    hub = recognize(MODELS / "tripod_hub.step")
    broken = plan(hub, {"simulate": False})
    name = next(f for x in broken.findings if x.code == "sharp_corner" for f in x.features)
    prove(broken, hub, hub.shape, 0.4)
    assert not any(f.code == "left_uncut" and name in f.features for f in check(broken, hub))
    for setup in broken.setups:
        setup.operations = [op for op in setup.operations if name not in op.features or op.name == "finish corners"]
    prove(broken, hub, hub.shape, 0.4)
    assert any(f.code == "left_uncut" and name in f.features for f in check(broken, hub))


def test_a_skin_in_a_small_hole_is_as_thick_as_it_is(tmp_path):
    # Solid geometry: a hole of 5.82 mm drilled with 5.8 mm keeps 0.01 mm all round, which counts as none, although
    # rays that graze it run 0.3 mm and more in it; drilled with 5.6 mm it keeps 0.11 mm.
    path = tmp_path / "part.step"
    cq.exporters.export(cq.Workplane().box(40, 30, 15).faces(">Z").workplane().hole(5.82), str(path))
    features = recognize(path)
    for drill, skin in ((5.8, None), (5.6, 0.11)):
        document = plan(features, {"simulate": False})
        for op in (op for s in document.setups for op in s.operations if op.tool.kind in ("twist_drill", "endmill")):
            if any(f.startswith("round_hole") for f in op.features):
                op.kind, op.name = "drilling", "drill"
                op.tool = op.tool.model_copy(update={"kind": "twist_drill", "DC": drill, "DCX": None})
        prove(document, features, features.shape, 0.1)
        found = [x for x in document.proof.left if x.feature and x.feature.startswith("round_hole")]
        assert (max(x.thickness for x in found) == pytest.approx(skin, abs=0.11)) if skin else not found
