"""Plain parts as closed meshes without the kernel: what the simulation cuts to."""

from __future__ import annotations

import math
from pathlib import Path

import cadquery as cq
import numpy as np
import pytest

from recognizer.plainread.read import plain_shape
from recognizer.reading import read_shape
from recognizer.stepfile import read_text
from shared.shape import DEFLECTION

MODELS = Path(__file__).resolve().parents[2] / "models"


def saved(work: cq.Workplane, folder: Path) -> Path:
    path = folder / "part.step"
    cq.exporters.export(work, str(path))
    return path


def is_closed(shape) -> bool:
    """Whether every edge is run once each way."""
    t = shape.triangles
    ends = np.concatenate([t[:, [0, 1]], t[:, [1, 2]], t[:, [2, 0]]])
    there = {tuple(e) for e in ends.tolist()}
    return len(there) == len(ends) and all((b, a) in there for a, b in there)


@pytest.mark.parametrize("name", ["altitude_carrier", "encoder_cover"])
def test_a_demo_part_closes(name):
    # Solid geometry: triangles within d of the faces are off the volume by d times the area at most.
    shape = plain_shape(read_text(MODELS / f"{name}.step"))
    assert shape is not None and is_closed(shape)
    exact = cq.importers.importStep(str(MODELS / f"{name}.step")).val()
    assert abs(shape.volume() - exact.Volume()) < DEFLECTION * exact.Area()
    assert len(np.unique(shape.faces)) == len(exact.Faces())


def test_cones_and_rims_of_several_radii_meet(tmp_path):
    # Solid geometry: a frustum is pi h (R^2 + R r + r^2) / 3, a torus round of 3 mm loses (1 - pi/4) r^2 along its way.
    work = cq.Workplane().circle(40).extrude(20).faces(">Z").workplane().cskHole(8, 24, 90)
    shape = plain_shape(read_text(saved(work, tmp_path)))
    assert shape is not None and is_closed(shape)
    sink = math.pi * 8 * (144 + 48 + 16) / 3
    assert shape.volume() == pytest.approx(math.pi * (1600 * 20 - 16 * 12) - sink, rel=4e-4)


def test_points_lie_on_the_faces_and_chords_within_the_deflection(tmp_path):
    shape = plain_shape(read_text(saved(cq.Workplane().circle(50).extrude(10).edges(">Z").fillet(3), tmp_path)))
    assert shape is not None and is_closed(shape)
    away = np.hypot(*shape.points[:, :2].T)
    assert away.max() == pytest.approx(50.0, abs=1e-4)
    middles = shape.corners().mean(axis=1)
    over = middles[:, 2] > 7.0
    rounds = np.hypot(np.hypot(*middles[:, :2].T) - 47.0, middles[:, 2] - 7.0)[
        over & (np.hypot(*middles[:, :2].T) > 47)
    ]
    assert (rounds > 3.0 - DEFLECTION).all() and (rounds < 3.0 + 1e-6).all()


def test_other_outlines_are_the_kernels(tmp_path):
    work = cq.Workplane().circle(20).extrude(40).cut(cq.Workplane("XZ").center(0, 20).circle(6).extrude(40, both=True))
    path = saved(work, tmp_path)
    assert plain_shape(read_text(path)) is None
    shape = read_shape(path)
    assert shape is not None and is_closed(shape)
