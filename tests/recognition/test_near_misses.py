"""What is almost equal is said with its figure; what is equal or clearly different is not. Truth by construction."""

from __future__ import annotations

from pathlib import Path

import cadquery as cq
import pytest

from recognizer import recognize

MODELS = sorted((Path(__file__).parents[2] / "models").glob("*.step"))


def block() -> cq.Workplane:
    return cq.Workplane().box(80, 50, 30, centered=False)


def pocket(part: cq.Workplane, x: float, depth: float, lean: float = 0.0) -> cq.Workplane:
    tool = cq.Workplane().box(20, 20, depth + 5, centered=False)
    if lean:
        tool = tool.rotate((0, 0, 0), (0, 0, 1), lean)
    return part.cut(tool.translate((x, 15, 30 - depth)))


def notes(document, code: str) -> list[str]:
    return [f.message for f in document.findings if f.code == code]


@pytest.mark.parametrize(("second", "said"), [(8.0, False), (8.02, True), (8.3, False)])
def test_floors_almost_at_one_level(features_of, second, said):
    found = notes(features_of(pocket(pocket(block(), 10, 8), 45, second)), "near_miss_level")
    assert bool(found) == said
    assert all("0.02 mm apart" in m for m in found)


@pytest.mark.parametrize(("lean", "said"), [(0.0, False), (0.1, True), (3.0, False)])
def test_pocket_almost_square_to_the_part(features_of, lean, said):
    found = notes(features_of(pocket(block(), 30, 8, lean)), "near_miss_angle")
    assert bool(found) == said
    assert all("0.1 degrees off" in m for m in found)


def test_turned_pocket_with_one_wall_a_tenth_of_a_degree_off_parallel(features_of):
    slope = 20 * 0.0017453
    sketch = cq.Workplane().polyline([(0, 0), (20, 0), (20, 12 + slope), (0, 12)]).close().extrude(15)
    part = block().cut(sketch.rotate((0, 0, 0), (0, 0, 1), 30).translate((35, 15, 20)))
    (message,) = notes(features_of(part), "near_miss_angle")
    assert "parallel" in message and "0.1 degrees off" in message


@pytest.mark.parametrize(("odd", "said"), [(6.0, False), (6.02, True), (6.1, False)])
def test_hole_almost_as_wide_as_its_siblings(features_of, odd, said):
    part = block()
    for k, d in enumerate((6.0, 6.0, odd, 6.0)):
        part = part.cut(cq.Workplane().circle(d / 2).extrude(40).translate((15 + 15 * k, 25, -5)))
    document = features_of(part)
    found = notes(document, "near_miss_diameter")
    assert bool(found) == said
    if said:
        assert "differ by 0.02 mm" in found[0]
        (note,) = [f for f in document.findings if f.code == "near_miss_diameter"]
        (hole,) = [f for f in document.features if f.kind == "round_hole" and f.dimensions["diameter"] > 6.01]
        assert note.features == [hole.id]


@pytest.mark.parametrize("path", MODELS, ids=[p.stem for p in MODELS])
def test_demo_parts_raise_no_false_alarm(path):
    assert [f.message for f in recognize(path).findings if f.code.startswith("near_miss")] == []


def test_walls_of_one_draft_are_no_near_miss_of_square(features_of):
    """Two neighbours that lean 5 degrees each meet at 90.44 degrees."""
    pocket = cq.Workplane().workplane(offset=25).center(40, 30).rect(50, 36).extrude(-12, taper=5)
    document = features_of(cq.Workplane().box(80, 60, 25, centered=False).cut(pocket))
    assert not [f for f in document.findings if f.code.startswith("near_miss")]
