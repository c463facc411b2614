"""Solids of which every face is sound and that run through themselves all the same; and some that only come close.

Truth by construction: sound parts whose numbers are changed in the file's text.
"""

from __future__ import annotations

import re
from pathlib import Path

import cadquery as cq
import pytest

from recognizer import recognize
from shared.errors import UnsoundSolid


def box() -> cq.Workplane:
    return cq.Workplane().box(60, 40, 20, centered=False)


def pocket() -> cq.Workplane:
    return box().cut(cq.Workplane().box(20, 20, 15, centered=False).translate((10, 10, 5)))


def hole() -> cq.Workplane:
    return box().cut(cq.Workplane().workplane(offset=5).center(30, 20).circle(6).extrude(15))


def boss() -> cq.Workplane:
    return box().union(cq.Workplane().workplane(offset=20).center(30, 20).circle(6).extrude(5))


def written(part: cq.Workplane, path: Path, old: str = "", new: str = "") -> Path:
    """A part's file with every third coordinate `old` made `new`."""
    cq.exporters.export(part, str(path))
    text = re.sub(r"\s*\n\s*(?!#)(?=[(),.\d'*$-])", "", path.read_text())
    changed = re.sub(rf"(CARTESIAN_POINT\('',\([^)]*,){re.escape(old)}\)", rf"\g<1>{new})", text) if old else text
    assert changed != text or not old
    path.write_text(changed)
    return path


@pytest.mark.parametrize(
    ("part", "old", "new"),
    [(pocket, "5.", "-3."), (pocket, "5.", "-300."), (hole, "5.", "-3."), (boss, "25.", "-8.")],
    ids=["pocket out below", "pocket far below", "hole out below", "boss through the part"],
)
def test_a_cut_that_goes_farther_than_the_part_is_refused(tmp_path: Path, part, old: str, new: str) -> None:
    path = written(part(), tmp_path / "part.step", old, new)
    with pytest.raises(UnsoundSolid, match="crosses itself|inside out") as caught:
        recognize(path)
    assert "epair" in caught.value.hint or "Reverse" in caught.value.hint


def test_who_only_asks_what_faces_are_is_told_of_a_solid_that_crosses_itself(tmp_path: Path) -> None:
    """Labelled parts are scored so; whatever plans refuses them."""
    path = written(pocket(), tmp_path / "part.step", "5.", "-3.")
    with pytest.raises(UnsoundSolid, match="crosses itself"):
        recognize(path)
    assert len(recognize(path, may_cross=True).faces) == 11


def test_a_boss_turned_outside_in_is_refused_or_a_pocket(tmp_path: Path) -> None:
    """Its top sinks below the face that it stands on: its wall now bounds a pocket, and looks the wrong way."""
    try:
        document = recognize(written(boss(), tmp_path / "part.step", "25.", "17."))
    except UnsoundSolid:
        return
    assert [f.kind for f in document.features if f.kind != "planar_face"] in (["round_hole"], ["closed_pocket"])


@pytest.mark.parametrize("wall", [0.05, 0.5])
def test_thin_walls_and_touching_cuts_are_no_crossings(tmp_path: Path, wall: float) -> None:
    bores = cq.Workplane().pushPoints([(20, 20), (32 + wall, 20)]).circle(6).extrude(20)
    thin = cq.Workplane().box(10, 10, 20 - wall, centered=False).translate((45, 2, wall))
    document = recognize(written(box().cut(bores).cut(thin), tmp_path / "thin.step"))
    assert sorted(f.kind for f in document.features if f.kind != "planar_face") == [
        "closed_pocket", "round_hole", "round_hole",
    ]  # fmt: skip


def test_bores_that_cross_uncut_are_refused(tmp_path: Path) -> None:
    """A hole's cylinder is written with a radius that reaches into its neighbour."""
    part = box().cut(cq.Workplane().center(20, 20).circle(6).extrude(20))
    part = part.cut(cq.Workplane().center(34, 20).circle(5).extrude(20))
    path = written(part, tmp_path / "bores.step")
    text = path.read_text()
    wide = re.sub(r"((?:CIRCLE|CYLINDRICAL_SURFACE)\('',#\d+,)5\.\)", r"\g<1>11.)", text)
    wide = re.sub(r"(CARTESIAN_POINT\('',\()39\.,", r"\g<1>45.,", wide)
    assert wide.count("11.)") >= 3
    path.write_text(wide)
    with pytest.raises(UnsoundSolid):
        recognize(path)
