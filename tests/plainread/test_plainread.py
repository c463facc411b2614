"""Plain parts read from the text alone are the kernel's parts, and what is not plain is left to the kernel.

The outside check is the kernel itself: another reader of the same ISO 10303-21 file.
"""

from __future__ import annotations

import re
from math import pi
from pathlib import Path

import cadquery as cq
import numpy as np
import pytest

from recognizer.kernel.read import read_solid
from recognizer.plainread.read import plain_snapshot
from recognizer.snapshot import Snapshot
from recognizer.stepfile import read_text
from tests.benchmarks.plates import plate


def _pocketed() -> cq.Workplane:
    block = cq.Workplane().box(60, 40, 20).faces(">Z").workplane().rect(30, 20).cutBlind(-8)
    return block.faces(">Z").workplane().pushPoints([(-24, 14), (24, -14)]).hole(5)


def _turned() -> cq.Workplane:
    """A cylinder, a torus and a cone without its tip, none of them along an axis of the file."""
    disc = cq.Workplane().circle(20).extrude(15).faces(">Z").edges().fillet(3).faces("<Z").edges().chamfer(2)
    return disc.rotate((0, 0, 0), (1, 2, 3), 40).translate((5, -7, 11))


def _ribbed() -> cq.Workplane:
    return (
        cq.Workplane()
        .box(50, 50, 30)
        .edges("|Z")
        .fillet(6)
        .faces(">Z")
        .edges()
        .fillet(2)
        .faces("<Z")
        .edges()
        .chamfer(1)
    )


def _drilled() -> cq.Workplane:
    """Blind holes with a drill's point."""
    drill = (
        cq.Workplane().circle(3).extrude(20).union(cq.Workplane(cq.Solid.makeCone(0, 3, 1.8)).translate((0, 0, -1.8)))
    )
    block = cq.Workplane().box(60, 40, 20, centered=False).cut(drill.translate((12, 20, 8)))
    return block.cut(drill.rotate((0, 0, 0), (0, 1, 0), 90).translate((45, 20, 10)))


PARTS = {
    "drilled": _drilled,
    "spire": lambda: cq.Workplane(cq.Solid.makeCone(10, 0, 20)),
    "pocketed": _pocketed,
    "turned": _turned,
    "ribbed": _ribbed,
    "plate": lambda: plate(60),
}


def _written(made: cq.Workplane, folder: Path) -> Path:
    path = folder / "part.step"
    cq.exporters.export(made, str(path))
    return path


def _plain(path: Path) -> Snapshot | None:
    return plain_snapshot(read_text(path))


@pytest.mark.parametrize("name", PARTS)
def test_a_plain_part_is_read_as_the_kernel_reads_it(name: str, tmp_path: Path) -> None:
    path = _written(PARTS[name](), tmp_path)
    ours, kernels = _plain(path), read_solid(path).snapshot
    assert ours is not None
    assert ours.volume == pytest.approx(kernels.volume, rel=1e-9)
    for a, b in zip(ours.faces, kernels.faces, strict=True):
        assert (a.kind, a.loops, a.step_id, a.surface.hollow) == (b.kind, b.loops, b.step_id, b.surface.hollow)
        assert (a.area, a.span) == pytest.approx((b.area, b.span), rel=1e-6)
        assert np.allclose((*a.surface.origin, *a.surface.axis), (*b.surface.origin, *b.surface.axis), atol=1e-9)
    for a, b in zip(ours.edges, kernels.edges, strict=True):
        assert (a.curve, a.faces, a.seam) == (b.curve, b.faces, b.seam)
        assert np.allclose(a.points, b.points, atol=1e-9)
        assert (a.bend, a.length) == pytest.approx((b.bend, b.length), abs=1e-6)


@pytest.mark.parametrize("name", PARTS)
def test_facets_look_outwards_and_enclose_the_volume(name: str, tmp_path: Path) -> None:
    ours = _plain(_written(PARTS[name](), tmp_path))
    assert ours is not None
    for face, corners in ours.facet_arrays.items():
        flat = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        assert ((flat * ours.facet_normals[face]).sum(axis=1) > 0).all()
        assert np.linalg.norm(flat, axis=1).sum() / 2 == pytest.approx(ours.faces[face].area, rel=5e-3)


def test_flux_of_a_torus_closes_a_ring(tmp_path: Path) -> None:
    """Volume of a cylinder with a rounded rim by Pappus: the quarter circle's centroid lies 4 r / 3 pi from its centre."""
    path = _written(cq.Workplane().circle(10).extrude(8).faces(">Z").edges().fillet(3).translate((4, 5, 6)), tmp_path)
    ours = _plain(path)
    quarter = pi * 9 / 4 * 2 * pi * (7 + 4 * 3 / (3 * pi))
    assert ours is not None
    assert ours.volume == pytest.approx(pi * 100 * 5 + pi * 49 * 3 + quarter, rel=1e-12)


def _first(text: str, kind: str) -> str:
    """The first record of a kind."""
    found = re.search(rf"#\d+\s*=\s*{kind}\(.*?\);", text, re.DOTALL)
    assert found
    return found.group()


def _without_a_face(text: str) -> str:
    shell = _first(text, "CLOSED_SHELL")
    return text.replace(shell, re.sub(r",\s*#\d+\s*\)", ")", shell, count=1))


def _face_turned(text: str) -> str:
    face = _first(text, "ADVANCED_FACE")
    return text.replace(face, face.replace(".T.", ".X.").replace(".F.", ".T.").replace(".X.", ".F."))


def _bound_turned(text: str) -> str:
    bound = _first(text, "FACE_BOUND")
    return text.replace(bound, bound.replace(".T.", ".X.").replace(".F.", ".T.").replace(".X.", ".F."))


def _loop_crossed(text: str) -> str:
    """Two neighbours of a loop change places."""
    loop = _first(text, "EDGE_LOOP")
    first, second = re.findall(r"#\d+", loop)[1:3]
    return text.replace(loop, loop.replace(first, "@").replace(second, first).replace("@", second))


def _vertex_moved(text: str) -> str:
    number = re.findall(r"#\d+", _first(text, "VERTEX_POINT"))[1]
    found = re.search(rf"{number} = CARTESIAN_POINT\('',\((.*?),", text)
    assert found
    return text[: found.start(1)] + str(float(found.group(1)) + 0.01) + text[found.end(1) :]


def _in_inches(text: str) -> str:
    return text.replace("SI_UNIT(.MILLI.,.METRE.)", "SI_UNIT(.CENTI.,.METRE.)")


def _with_a_loose_face(text: str) -> str:
    face = _first(text, "ADVANCED_FACE")
    return text.replace(face, face + "\n" + re.sub(r"#\d+", "#999999", face, count=1))


def _pole_moved(text: str) -> str:
    """A hole's wall with a radius that its edges do not have."""
    wall = _first(text, "CYLINDRICAL_SURFACE")
    return text.replace(wall, re.sub(r",([\d.E+-]+)\);", r",2.4);", wall))


SPOILT = [
    _without_a_face, _face_turned, _bound_turned, _loop_crossed, _vertex_moved, _in_inches, _with_a_loose_face, _pole_moved
]  # fmt: skip


@pytest.mark.parametrize("spoil", SPOILT, ids=lambda f: f.__name__.strip("_"))
def test_whatever_is_not_plain_to_see_is_left_to_the_kernel(spoil, tmp_path: Path) -> None:
    path = _written(_pocketed(), tmp_path)
    text = path.read_text()
    assert _plain(path) is not None
    spoilt = spoil(text)
    assert spoilt != text
    path.write_text(spoilt)
    assert _plain(path) is None


def test_a_solid_inside_out_is_left_to_the_kernel(tmp_path: Path) -> None:
    path = _written(cq.Workplane().box(10, 20, 30), tmp_path)
    text = path.read_text()
    senses = {".T.": ".F.", ".F.": ".T."}
    for kind in ("ADVANCED_FACE", "FACE_BOUND"):
        text = re.sub(rf"(= {kind}\([^;]*)(\.[TF]\.)\);", lambda m: m.group(1) + senses[m.group(2)] + ");", text)
    path.write_text(text)
    assert _plain(path) is None


@pytest.mark.parametrize(
    "made",
    [
        cq.Workplane().sphere(10),
        cq.Workplane().box(30, 30, 10).faces(">Z").workplane().hole(6).faces(">Y").workplane().hole(4),
        cq.Workplane().box(5, 5, 5).add(cq.Workplane().box(5, 5, 5).translate((20, 0, 0))).combine(),
    ],
    ids=["sphere", "crossing holes", "two solids"],
)
def test_parts_beyond_plain_are_left_to_the_kernel(made: cq.Workplane, tmp_path: Path) -> None:
    assert _plain(_written(made, tmp_path)) is None
