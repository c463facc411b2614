"""The workpiece as meshes: closed, as large as the rays say, labelled by operation; what stays and what is gouged."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from numpy.testing import assert_allclose

from planner import plan
from planner.proof.bodies import beyond, block, body_of
from planner.proof.fields import HeightField
from planner.proof.plane import plane_of
from planner.proof.prove import prove
from planner.proof.sweeps import DISC, Slab, Turned
from planner.proof.workpieces import workpieces
from recognizer import recognize
from shared.mesh import Mesh, packed, unpacked
from tests.proof.scenes import bare_scene

MODELS = Path(__file__).resolve().parents[2] / "models"
UP, DOWN = plane_of(np.array([0.0, 0.0, 1.0])), plane_of(np.array([0.0, 0.0, -1.0]))
SLANTED = plane_of(np.array([0.36, 0.48, 0.8]))
SCENE = bare_scene((60.0, 50.0, 30.0))


@pytest.fixture(scope="module")
def part():
    return recognize(MODELS / "cable_block.step")


@pytest.fixture(scope="module")
def whole(part):
    return plan(part, {})


@pytest.fixture(scope="module")
def pieces(part, whole):
    return workpieces(whole, part, part.shape)


def enclosed(mesh):
    """Mm3 inside, by the divergence theorem."""
    a, b, c = np.moveaxis(mesh.points.astype(float)[mesh.triangles], 1, 0)
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0)


def open_edges(mesh):
    """Edges, by their places, that do not have as many triangles on one side as on the other."""
    places = np.unique(mesh.points, axis=0, return_inverse=True)[1].reshape(-1)[mesh.triangles]
    half = np.vstack([places[:, [k, (k + 1) % 3]] for k in range(3)]).astype(np.int64)
    n = int(half.max()) + 1
    there, count = np.unique(half[:, 0] * n + half[:, 1], return_counts=True)
    back = dict(zip((there % n * n + there // n).tolist(), count.tolist(), strict=True))
    return sum(back.get(key, 0) != c for key, c in zip(there.tolist(), count.tolist(), strict=True))


def test_there_is_one_for_the_stock_and_one_for_each_setup(pieces, whole):
    assert [p.name for p in pieces] == ["stock", *(s.id for s in whole.setups)]


def test_they_are_closed_and_shrink(pieces):
    for piece in pieces:
        assert open_edges(piece.mesh) == 0
        assert_allclose(enclosed(piece.mesh), piece.volume, rtol=1e-5)  # points are kept in single precision
    volumes = [p.volume for p in pieces]
    assert volumes == sorted(volumes, reverse=True)


def test_the_last_one_is_the_part(pieces, part, whole):
    # The kernel's own volume; chords of arcs lie within 0.01 mm.
    assert_allclose(pieces[-1].volume, part.part.volume, rtol=5e-4)
    assert_allclose(pieces[0].volume, math.prod(whole.job.stock.size), rtol=1e-9)


def test_what_all_operations_take_is_stock_less_part(pieces, part, whole):
    # Two methods: the solids' volumes, and the rays' sum over operations.
    taken = sum(op.removed for s in whole.setups for op in s.operations)
    assert_allclose(taken, pieces[0].volume - pieces[-1].volume, rtol=1e-3)
    assert_allclose(taken, math.prod(whole.job.stock.size) - part.part.volume, rtol=1e-3)


def test_a_setup_takes_what_its_operations_take(pieces, whole):
    for before, after, setup in zip(pieces, pieces[1:], whole.setups, strict=False):
        taken = sum(op.removed for op in setup.operations)
        # Areas across rays are counted: a thousandth of the block's section times the depth.
        assert_allclose(taken, before.volume - after.volume, rtol=3e-3, atol=2e-4 * pieces[0].volume)


def test_faces_name_the_operation(pieces, whole):
    count = 0
    for piece, setup in zip(pieces[1:], whole.setups, strict=True):
        before, count = count, count + len(setup.operations)
        own = set(piece.mesh.faces.tolist())
        assert own <= set(range(count + 1))
        assert own & set(range(before + 1, count + 1))
    assert 0 not in pieces[-1].mesh.faces  # no raw side is left


def test_the_same_plan_gives_the_same_bytes(pieces, part, whole):
    again = workpieces(whole, part, part.shape)
    assert [p.mesh.to_bytes() for p in again] == [p.mesh.to_bytes() for p in pieces]


def test_a_pack_gives_back_what_went_in(pieces):
    found = unpacked(packed([({"name": p.name}, p.mesh) for p in pieces]))
    assert [row["name"] for row, _ in found] == [p.name for p in pieces]
    for (_, data), piece in zip(found, pieces, strict=True):
        assert (Mesh.from_bytes(data).triangles == piece.mesh.triangles).all()
    with pytest.raises(ValueError, match="no pack"):
        unpacked(b"something else")


def test_what_is_left_and_gouged_is_a_mesh_of_that_size(part):
    broken = plan(part, {"simulate": False})
    floor = next(op for s in broken.setups for op in s.operations if op.name == "finish floor")
    floor.levels.bottom -= 0.25
    holes = {op.features[0] for s in broken.setups for op in s.operations if op.tool.kind == "twist_drill"}
    for setup in broken.setups:
        setup.operations = [op for op in setup.operations if not set(op.features) & holes or op.id == floor.id]
    prove(broken, part, part.shape)
    found = {p.name: p for p in workpieces(broken, part, part.shape)}
    assert_allclose(found["left"].volume, broken.proof.left_uncut, rtol=0.05)
    # Of a layer of 0.25 mm the 0.05 mm next to the part count as none.
    assert_allclose(found["gouged"].volume, broken.proof.gouged * 0.8, rtol=0.05)


@pytest.mark.parametrize("plane", [UP, DOWN, SLANTED])
def test_a_prism_is_as_large_as_its_base_times_its_height(plane):
    middle = plane.flat(np.array([30.0, 25.0, 15.0]))
    level = float(np.array([30.0, 25.0, 15.0]) @ plane.d)
    prism = body_of(Slab(plane, shapely.Point(middle).buffer(6.0, DISC), level - 4.0, level + 4.0), SCENE)
    assert_allclose(prism.volume(), math.pi * 36 * 8, rtol=4e-3)
    assert_allclose(np.array(prism.bounding_box()).reshape(2, 3).mean(axis=0), [30.0, 25.0, 15.0], atol=1e-3)


@pytest.mark.parametrize(("plane", "tip"), [(UP, 10.0), (DOWN, -20.0), (SLANTED, 30.0)])
def test_a_drill_is_a_cylinder_with_its_point(plane, tip):
    # Solid geometry: pi r^2 (h - 2/3 of the point's height).
    drill = Turned(plane, (30.0, 25.0), tip, np.array([0.0, 3.0]), np.array([0.0, 5.0]), tip + 12.0)
    assert_allclose(body_of(drill, SCENE).volume(), math.pi * 25 * (12.0 - 2.0), rtol=4e-3)


def test_a_height_field_is_all_above_it_where_it_is_known():
    # Solid geometry: from a floor that falls from 20 to 10 up to the lid 1 mm above the block, on half of the grid.
    grid = np.linspace(20.0, 10.0, 81)[:, None] + np.zeros((1, 61))
    grid[:, 31:] = np.inf
    field = body_of(HeightField(UP, np.array([10.0, 10.0]), 0.5, grid), SCENE)
    assert_allclose(field.volume(), 40 * 15 * (31 - 15), rtol=1e-3)


def test_skins_are_not_beyond_and_lumps_are():
    low, high = np.zeros(3), np.array([20.0, 20.0, 10.0])
    whole = block(low, high)
    assert beyond(block(low - 0.02, high + 0.02), whole, 0.05).is_empty()
    lump = block(np.array([5.0, 5.0, 9.0]), np.array([9.0, 9.0, 13.0]))
    assert_allclose(beyond(whole + lump, whole, 0.05).volume(), 4 * 4 * (3 - 0.05), rtol=0.01)
