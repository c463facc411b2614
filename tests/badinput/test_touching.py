"""Solids that touch themselves, fall to pieces, or go through themselves without an edge of either face doing so.

Truth by construction: shells put together by hand, and sound parts with walls of a given thickness.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import cadquery as cq
import pytest
from OCP.BRep import BRep_Builder
from OCP.TopoDS import TopoDS_Shell, TopoDS_Solid

from recognizer import recognize
from recognizer.kernel.snapshot import snapshot_of
from recognizer.pieces import check_one_piece
from recognizer.reading import refuse_crossings
from shared.errors import UnsoundSolid


def box(x: float, y: float, z: float, at: tuple[float, float, float] = (0, 0, 0)) -> cq.Workplane:
    return cq.Workplane().box(x, y, z).translate(at)


def hollowed(outer: cq.Workplane, *inner: cq.Workplane) -> cq.Solid:
    """A solid of several shells: all but the first turned inside out, as the boundary of a hollow is."""
    builder, solid = BRep_Builder(), TopoDS_Solid()
    builder.MakeSolid(solid)
    builder.Add(solid, outer.shells().val().wrapped)
    for hollow in inner:
        builder.Add(solid, hollow.shells().val().wrapped.Reversed())
    return cq.Solid(solid)


def of_faces(faces: Sequence[cq.Face]) -> cq.Solid:
    """A solid of one shell that lists these faces."""
    builder, shell, solid = BRep_Builder(), TopoDS_Shell(), TopoDS_Solid()
    builder.MakeShell(shell)
    for face in faces:
        builder.Add(shell, face.wrapped)
    builder.MakeSolid(solid)
    builder.Add(solid, shell)
    return cq.Solid(solid)


def refused(solid: cq.Shape, words: str) -> None:
    with pytest.raises(UnsoundSolid, match=words) as caught:
        refuse_crossings(snapshot_of(solid.wrapped))
    assert caught.value.hint


PLATE = (60, 40, 20)


@pytest.mark.parametrize(
    "hollow",
    [
        box(10, 10, 5, (25, 0, 0)),
        box(10, 10, 5).rotate((0, 0, 0), (0, 0, 1), 45).translate((30 - 50**0.5, 0, 0)),
    ],
    ids=["a face on a face", "an edge on a face"],
)
def test_a_hollow_that_touches_the_outside_is_refused(hollow: cq.Workplane) -> None:
    refused(hollowed(box(*PLATE), hollow), "touches itself")


@pytest.mark.parametrize("thickness", [1e-4, 5e-4])
def test_walls_and_floors_without_thickness_are_refused(tmp_path: Path, thickness: float) -> None:
    left, right = (box(20, 30, 10, (side * (10 + thickness / 2), 0, 5)) for side in (-1, 1))
    refused(box(*PLATE).cut(left).cut(right).val(), "touches itself.*lies on")
    refused(box(*PLATE).cut(box(20, 20, 20, (0, 0, thickness))).val(), "touches itself.*lies on")
    refused(box(60, 40, thickness).val(), "touches itself.*lies on")


def test_cylinders_that_cross_uncut_are_refused() -> None:
    """One goes into the other's side, and no edge does: the seams lie on their far sides."""
    upright = cq.Workplane().circle(4).extrude(5, both=True)
    along = cq.Workplane("YZ").circle(3).extrude(15, both=True).translate((0, 4.5, 0))
    refused(hollowed(box(*PLATE), upright, along), "crosses itself: face 6 passes through")


def test_a_ball_that_bulges_through_a_face_is_refused() -> None:
    """Its seam lies on the side away from the face that it goes through."""
    ball = cq.Workplane().sphere(12).rotate((0, 0, 0), (0, 1, 0), 90).rotate((0, 0, 0), (0, 0, 1), 90)
    refused(hollowed(box(*PLATE), ball.translate((0, 0, -1))), "crosses itself")


def two_cubes(way: tuple[float, float, float]) -> cq.Solid:
    fused = box(20, 20, 20).union(box(20, 20, 20, way))
    return of_faces([f for solid in fused.solids().vals() for f in solid.Faces()])


@pytest.mark.parametrize(
    "way", [(20, 20, 0), (20, 20, 20), (50, 0, 0)], ids=["touching in an edge", "touching in a corner", "apart"]
)
def test_pieces_that_hang_together_by_nothing_are_refused(way: tuple[float, float, float]) -> None:
    with pytest.raises(UnsoundSolid, match="2 pieces"):
        check_one_piece(snapshot_of(two_cubes(way).wrapped))


def test_a_hollow_beside_the_material_is_refused_and_one_within_it_is_not() -> None:
    check_one_piece(snapshot_of(hollowed(box(*PLATE), box(10, 10, 5)).wrapped))
    with pytest.raises(UnsoundSolid, match="outside its material"):
        check_one_piece(snapshot_of(hollowed(box(*PLATE), box(10, 10, 5, (100, 0, 0))).wrapped))


def test_pockets_that_touch_in_an_edge_are_one_piece() -> None:
    solid = box(40, 40, 20).cut(box(10, 10, 10, (-5, -5, 5))).cut(box(10, 10, 10, (5, 5, 5)))
    check_one_piece(snapshot_of(solid.val().wrapped))
    refuse_crossings(snapshot_of(solid.val().wrapped))


def test_faces_at_one_level_and_bores_on_one_axis_touch_nothing(tmp_path: Path) -> None:
    part = box(*PLATE).faces(">Z").workplane().pushPoints([(-15, 0), (15, 0)]).circle(8).cutBlind(-5)
    part = part.cut(cq.Workplane("XZ").circle(3).extrude(100, both=True))
    part = part.cut(box(70, 6, 20, (0, 0, 12)))
    path = tmp_path / "part.step"
    cq.exporters.export(part, str(path))
    assert recognize(path).features
