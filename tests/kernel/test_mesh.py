"""Triangles of a part: closed, outward, owned by the right faces; and their bytes."""

from __future__ import annotations

import math
import subprocess
import sys
import tempfile
from pathlib import Path

import cadquery as cq
import numpy as np
import pytest

from recognizer import recognize
from recognizer.reading import read_mesh
from shared.mesh import Mesh

MODELS = Path(__file__).resolve().parents[2] / "models"


@pytest.fixture(
    scope="module", params=["altitude_carrier", "encoder_cover", "pier_adapter", "focuser_plate", "tripod_hub"]
)
def path(request: pytest.FixtureRequest) -> Path:
    return MODELS / f"{request.param}.step"


def corners(mesh: Mesh) -> tuple[np.ndarray, ...]:
    points = mesh.points.astype(float)
    return tuple(points[mesh.triangles[:, k]] for k in range(3))


def test_the_triangles_enclose_the_parts_volume(path: Path) -> None:
    a, b, c = corners(read_mesh(path))
    volume = np.einsum("ij,ij->", a, np.cross(b, c)) / 6  # divergence theorem: positive when they face outwards
    assert volume == pytest.approx(recognize(path).part.volume, rel=2e-3)


def test_each_face_has_its_area(path: Path) -> None:
    mesh = read_mesh(path)
    a, b, c = corners(mesh)
    areas = np.bincount(mesh.faces, np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2)
    for face in recognize(path).faces:
        assert areas[face.index] == pytest.approx(face.area, rel=0.03), face


def test_each_edge_line_runs_between_its_ends(path: Path) -> None:
    mesh = read_mesh(path)
    lines = {
        int(edge): mesh.edge_points[start:end]
        for edge, start, end in zip(mesh.edges, mesh.edge_starts, mesh.edge_starts[1:], strict=False)
    }
    for edge in recognize(path).edges:
        drawn = np.array([lines[edge.index][0], lines[edge.index][-1]])
        ends = np.array([edge.start, edge.end])
        assert np.allclose(drawn, ends, atol=1e-3) or np.allclose(drawn, ends[::-1], atol=1e-3), edge


def test_bytes_lead_back(path: Path) -> None:
    mesh = read_mesh(path)
    assert Mesh.from_bytes(mesh.to_bytes()).to_bytes() == mesh.to_bytes()
    with pytest.raises(ValueError, match="no mesh"):
        Mesh.from_bytes(b"solid cube")


def test_a_plain_part_is_drawn_without_the_kernel() -> None:
    path = MODELS / "encoder_cover.step"
    code = f"import sys; from recognizer.reading import read_mesh; read_mesh({str(path)!r}); assert 'OCP' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True, cwd=MODELS.parent)


def test_round_faces_are_as_fine_as_their_size_asks_for() -> None:
    """A circle of 0.2 m across on a plate of 0.3 m gets more than the 24 steps of a small one: 2 acos(1 - d / r)."""
    disc = cq.Workplane().circle(100).extrude(10).faces(">Z").workplane().hole(4)
    with tempfile.TemporaryDirectory() as scratch:
        file = Path(scratch) / "disc.step"
        cq.exporters.export(disc, str(file))
        mesh = read_mesh(file)
    counts = sorted({int(n) - 1 for n in np.diff(mesh.edge_starts) if n > 2})
    assert counts == [24, math.ceil(2 * math.pi / (2 * math.acos(1 - mesh.deviation / 100)))]
