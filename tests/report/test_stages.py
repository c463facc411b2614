"""Pictures of the workpiece in each setup: from the command line, with what stays in a colour of its own."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest

from planner import plan
from planner.proof.prove import prove
from recognizer import recognize
from service.report.pictures import draw_each
from service.report.stages import GOUGED, LEFT, stages
from service.study import workpiece_rows
from tests.batch.conftest import sidewise

PART = Path(__file__).resolve().parents[2] / "models" / "cable_block.step"


def pixels(png: bytes) -> np.ndarray:
    """(h, w, 3) colours of a PNG."""
    from vtkmodules.util.numpy_support import vtk_to_numpy
    from vtkmodules.vtkIOImage import vtkPNGReader

    reader = vtkPNGReader()
    reader.SetMemoryBuffer(png)
    reader.SetMemoryBufferLength(len(png))
    reader.Update()
    image = reader.GetOutput()
    wide, tall, _ = image.GetDimensions()
    return vtk_to_numpy(image.GetPointData().GetScalars()).reshape(tall, wide, -1)[:, :, :3]


def share(picture: np.ndarray, colour: str) -> float:
    """Share of the picture in about one hue, however it is lit."""
    want = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)], dtype=float)
    norm = np.linalg.norm(picture.astype(float), axis=2)
    cosine = (picture @ want) / np.maximum(norm * np.linalg.norm(want), 1e-9)
    return float(((cosine > 0.99) & (norm > 60)).mean())


def test_one_picture_a_setup_from_the_command_line(tmp_path: Path) -> None:
    done = sidewise("plan", PART, "--pictures", tmp_path / "drawn", "-o", tmp_path / "plan.json")
    if "cannot draw" in done.stderr:
        pytest.skip("this machine cannot draw without a screen")
    assert done.returncode == 0, done.stderr
    names = sorted(p.stem for p in (tmp_path / "drawn").glob("*.png"))
    assert names == [f"s{n + 1}" for n in range(len(names))] and names
    for path in (tmp_path / "drawn").glob("*.png"):
        wide, tall = struct.unpack(">II", path.read_bytes()[16:24])
        assert (wide, tall) == (900, 620)


def test_what_stays_is_seen_at_the_end_only_where_something_does() -> None:
    part = recognize(PART)
    broken = plan(part, {"simulate": False})
    hole = next(op for s in broken.setups for op in s.operations if op.tool.kind == "twist_drill" and op.tool.DC > 5)
    for setup in broken.setups:
        setup.operations = [op for op in setup.operations if op.features != hole.features]
    floor = next(op for s in broken.setups for op in s.operations if op.name == "finish floor")
    floor.levels.bottom -= 1.0
    prove(broken, part, part.shape, 0.4)
    rows = [(about, mesh.to_bytes()) for about, mesh in workpiece_rows(part, broken, part.shape)]
    names, meshes, scenes = stages(part, broken, rows)
    assert names[-2:] == ["end", "end_below"]
    assert [s.jaws for _, s in scenes][0]  # held in a vise
    try:
        drawn = draw_each(meshes, scenes)
    except (ImportError, RuntimeError):
        pytest.skip("this machine cannot draw without a screen")
    shares = [share(pixels(d), LEFT) for d in drawn]
    assert max(shares[-2:]) > 1e-4
    assert shares[0] == 0.0
    assert {colour for _, s in scenes for _, colour in s.over} == {LEFT, GOUGED}


def test_the_stages_of_a_good_plan_have_nothing_over_them() -> None:
    part = recognize(PART)
    whole = plan(part, {})
    rows = [(about, mesh.to_bytes()) for about, mesh in workpiece_rows(part, whole, part.shape)]
    names, _, scenes = stages(part, whole, rows)
    assert names == [s.id for s in whole.setups]
    assert not any(s.over for _, s in scenes)
