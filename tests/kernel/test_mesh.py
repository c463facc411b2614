"""Triangles of a part: closed, outward, owned by the right faces; and their bytes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from recognizer import recognize
from recognizer.kernel.mesh import read_mesh
from shared.mesh import Mesh

MODELS = Path(__file__).resolve().parents[2] / "models"


@pytest.fixture(scope="module", params=["altitude_carrier", "focuser_plate", "tripod_hub"])
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
