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


def _slanted() -> cq.Workplane:
    """Ellipses: a pin whose end is cut at an angle, and a hole that leaves through that end."""
    pin = cq.Workplane().circle(8).extrude(40).cut(cq.Workplane().circle(3).extrude(50))
    return pin.cut(
        cq.Workplane("XZ").polyline([(-20, 20), (20, 35), (20, 60), (-20, 60)]).close().extrude(40, both=True)
    )


def _notched() -> cq.Workplane:
    """Cylinders whose outline is no rectangle: a slot across a bore, a flat on a pin, a window in a tube's wall."""
    tube = cq.Workplane().circle(15).extrude(40).cut(cq.Workplane().circle(10).extrude(40))
    tube = tube.cut(cq.Workplane("XY", origin=(0, 0, 30)).box(50, 6, 20, centered=(True, True, False)))
    return tube.cut(cq.Workplane("XY", origin=(12, 0, 15)).box(20, 8, 8))


def _crossed() -> cq.Workplane:
    """Splines: a hole drilled across a pin, and one across a cone."""
    pin = cq.Workplane().circle(10).extrude(30).faces(">Z").workplane().circle(10).workplane(offset=15).circle(6).loft()
    pin = pin.cut(cq.Workplane("XZ", origin=(0, 0, 12)).circle(3).extrude(40, both=True))
    return pin.cut(cq.Workplane("YZ", origin=(0, 1, 20)).circle(2).extrude(40))


PARTS = {
    "slanted": _slanted,
    "notched": _notched,
    "crossed": _crossed,
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
    # The kernel's own integrals over faces that splines bound are good to some 1e-5: see the closed form below.
    rough = 5e-5 if name == "crossed" else 1e-9
    assert ours.volume == pytest.approx(kernels.volume, rel=rough)
    for a, b in zip(ours.faces, kernels.faces, strict=True):
        assert (a.kind, a.loops, a.step_id, a.surface.hollow) == (b.kind, b.loops, b.step_id, b.surface.hollow)
        assert (a.area, a.span) == pytest.approx((b.area, b.span), rel=max(1e-6, rough))
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


def test_volume_of_a_pin_drilled_across(tmp_path: Path) -> None:
    """What two crossing cylinders of radii a > b share is the integral of 4 sqrt((a2 - y2) (b2 - y2)) from -b to b (their
    sections at a height y are rectangles); with y = b sin(t) Gauss and Legendre's rule takes it. From memory.
    """
    a, b, high = 10.0, 3.0, 30.0
    t, weights = np.polynomial.legendre.leggauss(40)
    y, dy = b * np.sin(t * pi / 2), b * np.cos(t * pi / 2) * pi / 2
    shared = float((4 * np.sqrt((a * a - y * y) * (b * b - y * y)) * dy * weights).sum())
    pin = cq.Workplane().circle(a).extrude(high)
    ours = _plain(_written(pin.cut(cq.Workplane("XZ", origin=(0, 0, 12)).circle(b).extrude(40, both=True)), tmp_path))
    assert ours is not None
    assert {e.curve for e in ours.edges} == {"line", "circle", "curve"}
    assert ours.volume == pytest.approx(pi * a * a * high - shared, rel=1e-8)


def test_volume_and_area_of_a_pin_cut_at_an_angle(tmp_path: Path) -> None:
    """A cylinder cut at an angle: the height over its axis counts, and the ellipse's area is that of the circle by the
    cosine of the angle. From memory.
    """
    pin = cq.Workplane().circle(8).extrude(60)
    wedge = cq.Workplane("XZ").polyline([(-20, 20), (20, 60), (20, 90), (-20, 90)]).close().extrude(40, both=True)
    ours = _plain(_written(pin.cut(wedge).translate((3, 4, 5)), tmp_path))
    assert ours is not None
    assert ours.volume == pytest.approx(pi * 64 * 40, rel=1e-9)
    areas = sorted(f.area for f in ours.faces)
    assert areas == pytest.approx([pi * 64, pi * 64 * 2**0.5, 2 * pi * 8 * 40], rel=1e-9)


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


def _ellipse_widened(text: str) -> str:
    ellipse = _first(text, "ELLIPSE")
    return text.replace(ellipse, re.sub(r",([\d.]+),", lambda m: f",{1.001 * float(m[1])},", ellipse, count=1))


def _spline_bent(text: str) -> str:
    """A pole within a spline in space lies somewhat elsewhere."""
    for spline in re.findall(r"B_SPLINE_CURVE_WITH_KNOTS\('',\d+,\(([^)]*)\)", text):
        pole = re.findall(r"#\d+", spline)[1]
        found = re.search(rf"{pole} = CARTESIAN_POINT\('',\(([^,)]*),([^,)]*),([^,)]*)\)", text)
        if found:
            return text[: found.start(1)] + str(float(found[1]) + 0.01) + text[found.end(1) :]
    return text


@pytest.mark.parametrize("name", ["pocketed", "notched", "crossed"])
@pytest.mark.parametrize("spoil", SPOILT, ids=lambda f: f.__name__.strip("_"))
def test_whatever_is_not_plain_to_see_is_left_to_the_kernel(name: str, spoil, tmp_path: Path) -> None:
    _check_left_to_the_kernel(name, spoil, tmp_path)


def test_curves_that_leave_their_surfaces_are_left_to_the_kernel(tmp_path: Path) -> None:
    _check_left_to_the_kernel("slanted", _ellipse_widened, tmp_path)
    _check_left_to_the_kernel("crossed", _spline_bent, tmp_path)


def _check_left_to_the_kernel(name: str, spoil, tmp_path: Path) -> None:
    path = _written(PARTS[name](), tmp_path)
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
        cq.Workplane().rect(10, 10).workplane(offset=10).circle(4).loft(),
        cq.Workplane().box(5, 5, 5).add(cq.Workplane().box(5, 5, 5).translate((20, 0, 0))).combine(),
    ],
    ids=["sphere", "free form", "two solids"],
)
def test_parts_beyond_plain_are_left_to_the_kernel(made: cq.Workplane, tmp_path: Path) -> None:
    assert _plain(_written(made, tmp_path)) is None
