"""Files that the kernel reads without a word, but that are no sound solid."""

from __future__ import annotations

from collections.abc import Callable
from math import pi
from pathlib import Path

import cadquery as cq
import pytest

from recognizer.kernel.read import read_solid
from recognizer.kernel.soundness import check_sound
from shared.errors import NoSolid, NotStep, SeveralSolids, SidewiseError, UnsoundSolid
from tests.badinput import parts

GOOD_VOLUME = parts.BOX[0] * parts.BOX[1] * parts.BOX[2] - pi * 4**2 * parts.BOX[2]


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> str:
    return parts.good_text(tmp_path_factory.mktemp("good"))


@pytest.mark.parametrize(
    ("spoil", "error", "words"),
    [
        (parts.without_a_face, UnsoundSolid, "open"),
        (parts.dangling, NotStep, "not there"),
        (parts.self_reference, NotStep, "itself"),
        (parts.circle, NotStep, "circle"),
        (parts.not_a_number, NotStep, "not finite"),
        (parts.deep, NotStep, "deep"),
        (lambda text: parts.scaled(text, 1e5), UnsoundSolid, "large"),
        (lambda text: parts.scaled(text, 1e-4), UnsoundSolid, "small|do not meet"),
    ],
    ids=["without a face", "dangling", "self", "circle", "nan", "deep", "huge", "tiny"],
)
def test_a_spoilt_file_is_refused_with_a_hint(
    tmp_path: Path, good: str, spoil: Callable[[str], str], error: type[SidewiseError], words: str
) -> None:
    bad = spoil(good)
    assert bad != good
    path = tmp_path / "bad.step"
    path.write_text(bad)
    with pytest.raises(error, match=words) as caught:
        read_solid(path)
    assert caught.value.hint


@pytest.mark.parametrize("spoil", [parts.shell_turned, parts.one_face_turned])
def test_faces_turned_in_the_file_come_out_right_or_not_at_all(
    tmp_path: Path, good: str, spoil: Callable[[str], str]
) -> None:
    path = tmp_path / "turned.step"
    path.write_text(spoil(good))
    try:
        assert read_solid(path).volume == pytest.approx(GOOD_VOLUME, rel=1e-9)
    except UnsoundSolid as error:
        assert error.hint


def sound(solid: cq.Shape) -> float:
    from OCP.TopAbs import TopAbs_FACE
    from OCP.TopExp import TopExp
    from OCP.TopTools import TopTools_IndexedMapOfShape

    faces = TopTools_IndexedMapOfShape()
    TopExp.MapShapes_s(solid.wrapped, TopAbs_FACE, faces)
    return check_sound(solid.wrapped, faces, [None] * faces.Extent()).volume


def test_a_solid_inside_out_is_refused() -> None:
    inside_out = parts.box().val().wrapped.Reversed()
    with pytest.raises(UnsoundSolid, match="inside out"):
        sound(cq.Solid(inside_out))


def test_an_open_shell_names_the_faces_beside_the_gap() -> None:
    faces = cq.Workplane("XY").box(10, 10, 10).faces("not >Z").vals()
    solid = cq.Solid.makeSolid(cq.Shell.makeShell(faces))
    with pytest.raises(UnsoundSolid, match="open: 4 edges") as caught:
        sound(solid)
    assert caught.value.where.count("face") == 4


def test_pockets_that_touch_in_an_edge_are_sound() -> None:
    """Two pockets share an upright edge: it has four faces, and yet the solid is closed."""
    solid = cq.Workplane("XY").box(40, 40, 20)
    for x, y in ((-5, -5), (5, 5)):
        solid = solid.cut(cq.Workplane("XY").box(10, 10, 10).translate((x, y, 5)))
    assert sound(solid.val()) == pytest.approx(40 * 40 * 20 - 2 * 1000)


@pytest.mark.parametrize(
    "outline",
    [[(0, 0), (40, 0), (0, 30), (40, 30)], [(0, 0), (60, 0), (0, 30), (20, 30)]],
    ids=["two equal lobes", "unequal lobes"],
)
def test_a_block_whose_outline_crosses_itself_is_refused(tmp_path: Path, outline: list[tuple[float, float]]) -> None:
    crossing = cq.Workplane("XY").polyline(outline).close().extrude(10)
    with pytest.raises(UnsoundSolid):
        read_solid(parts.write(crossing, tmp_path / "crossing.step"))


def test_surfaces_only(tmp_path: Path) -> None:
    faces = cq.Compound.makeCompound(parts.box().faces().vals()[:3])
    with pytest.raises(NoSolid, match="only 3 surfaces"):
        read_solid(parts.write(faces, tmp_path / "faces.step"))


def test_curves_only(tmp_path: Path) -> None:
    wire = cq.Workplane("XY").rect(10, 10).wires().val()
    with pytest.raises(NoSolid, match="wireframe.* and no solid"):
        read_solid(parts.write(wire, tmp_path / "wire.step"))


def two_solids(folder: Path) -> Path:
    small = cq.Workplane("XY").box(10, 10, 10).val().moved(cq.Location(cq.Vector(100, 0, 0)))
    return parts.write(cq.Compound.makeCompound([parts.box().val(), small]), folder / "two.step")


def test_two_solids_ask_for_a_choice_and_take_it(tmp_path: Path) -> None:
    path = two_solids(tmp_path)
    with pytest.raises(SeveralSolids, match="2 solids") as caught:
        read_solid(path)
    assert "--solid N" in caught.value.hint
    assert read_solid(path, solid=1).volume == pytest.approx(GOOD_VOLUME)
    assert read_solid(path, solid=2).volume == pytest.approx(1000)
    with pytest.raises(SeveralSolids, match="no solid 3"):
        read_solid(path, solid=3)


def test_loose_faces_beside_the_solid_are_counted(tmp_path: Path) -> None:
    patch = cq.Workplane("XY").box(5, 5, 5).faces(">Z").val().moved(cq.Location(cq.Vector(0, 0, 50)))
    read = read_solid(parts.write(cq.Compound.makeCompound([parts.box().val(), patch]), tmp_path / "loose.step"))
    assert (read.solids, read.loose_faces) == (1, 1)


def test_step_ids_name_the_faces_in_the_file(tmp_path: Path, good: str) -> None:
    path = tmp_path / "good.step"
    path.write_text(good)
    read = read_solid(path)
    assert len(set(read.step_ids)) == 7
    assert all(f"\n#{number} = ADVANCED_FACE" in good for number in read.step_ids)


@pytest.mark.parametrize("spelling", ["bom", "blank lines"])
def test_what_other_programs_put_before_the_start_is_tolerated(tmp_path: Path, good: str, spelling: str) -> None:
    path = tmp_path / "good.step"
    path.write_text(("\ufeff" if spelling == "bom" else "\r\n\r\n  ") + good, encoding="utf-8")
    assert read_solid(path).volume == pytest.approx(GOOD_VOLUME)


def test_bare_and_full_readings_of_a_plane_faced_part_agree(tmp_path: Path) -> None:
    from recognizer.kernel.read import _read
    from recognizer.stepfile import read_text

    wedge = cq.Workplane("XY").polyline([(0, 0), (50, 0), (20, 30)]).close().extrude(25)
    wedge = wedge.cut(cq.Workplane("XY").box(10, 10, 20).translate((22, 8, 25)))
    text = read_text(parts.write(wedge, tmp_path / "wedge.step"))
    assert text.polyhedral
    bare, full = _read(text, None, "bare"), _read(text, None, "full")
    assert bare.volume == pytest.approx(full.volume, rel=1e-12)
    assert bare.step_ids == full.step_ids
