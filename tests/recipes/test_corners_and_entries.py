"""Sharp corners by the small cutter alone, a rougher that goes everywhere, free forms entered from the part's side.

Geometry by eye: a cutter of diameter D passes a channel wider than D; what it finishes first needs no thin cutter after it
but in the corners. Common practice, no source.
"""

from __future__ import annotations

import math
from pathlib import Path

import cadquery as cq
import pytest

from planner import plan
from planner.geometry import chord_bends
from planner.recipes.regions import runs_out
from recognizer import recognize
from shared.cutters import default_cutters
from shared.features import Box, View

MODELS = Path(__file__).resolve().parents[2] / "models"


def read(tmp_path, part):
    cq.exporters.export(part, str(tmp_path / "part.step"))
    return recognize(tmp_path / "part.step")


def block(x=100.0, y=60.0, z=30.0):
    return cq.Workplane("XY").box(x, y, z, centered=False)


def operations(result, word):
    return [op for s in result.setups for op in s.operations if op.name.startswith(word)]


def test_a_large_cutter_finishes_the_walls_and_a_small_one_sharp_corners(tmp_path):
    part = block().cut(cq.Workplane("XY").box(60, 30, 10, centered=False).translate((20, 15, 20)))
    result = plan(read(tmp_path, part))
    assert result.proof.checker == [] and result.proof.gouged == 0.0
    (walls,), (corners,) = operations(result, "finish walls"), operations(result, "finish corners")
    assert walls.tool.DC >= 2.0 * corners.tool.DC
    assert any(f"the {walls.tool.DC:g} mm cutter that finished the walls" in b for b in corners.because)
    assert walls.feed > corners.feed, "the stiff cutter goes along the walls faster"
    names = [op.name for s in result.setups for op in s.operations]
    assert names.index("finish walls") < names.index("finish corners")


def test_a_pocket_with_radii_is_finished_in_one_contour(tmp_path):
    pocket = cq.Workplane("XY").box(60, 30, 10, centered=False).translate((20, 15, 20)).edges("|Z").fillet(4)
    result = plan(read(tmp_path, block().cut(pocket)), {"simulate": False})
    assert operations(result, "finish walls") and not operations(result, "finish corners")


def test_the_rougher_passes_the_channel_not_only_its_corners(tmp_path):
    """A channel 12 mm wide round an island: a 12 mm cutter finds room with its allowance in the four corners alone."""
    ring = cq.Workplane("XY").workplane(offset=20).center(50, 30).rect(64, 44).rect(40, 20).extrude(10)
    result = plan(read(tmp_path, block().cut(ring)), {"simulate": False})
    rough = operations(result, "rough closed pocket")
    assert rough and rough[0].tool.DC < 12.0


def test_a_free_form_at_the_parts_side_is_entered_from_there():
    """The top of the focuser plate's free form runs out over three sides of the part."""
    result = plan(recognize(MODELS / "focuser_plate.step"), {"simulate": False})
    (rough,) = operations(result, "rough region")
    assert rough.entry.startswith("from outside")


def test_a_surface_inside_the_part_is_not():
    document = recognize(MODELS / "focuser_plate.step")
    (feature,) = [f for f in document.features if f.kind == "region"]
    (view,) = [v for v in feature.views if v.direction[2] > 0.9]
    assert runs_out(feature, view, document)
    face = next(f for f in document.faces if f.index == feature.faces[0])
    low, high = face.box.min, face.box.max
    face.box = Box(min=tuple(c + 1.0 for c in low), max=tuple(c - 1.0 for c in high))
    assert not runs_out(feature, view, document)


def test_a_chamfer_round_a_holes_mouth_is_entered_in_the_hole(tmp_path):
    """A 5 mm hole with a 0.6 mm chamfer: no cutter comes to it from outside."""
    part = block(40, 40, 30).faces(">Z").workplane(centerOption="CenterOfMass").cskHole(5, 6.2, 90, 14)
    result = plan(read(tmp_path, part))
    (chamfer,) = operations(result, "chamfer")
    assert chamfer.entry.startswith("down in the middle of the hole")
    assert not [f for f in result.proof.checker if f.severity == "error"]
    assert any("middle of the hole" in b for b in chamfer.because)


def test_a_chamfer_along_an_outer_edge_is_entered_from_outside(tmp_path):
    part = block().edges("|Y and >Z and >X").chamfer(1.5)
    chamfers = operations(plan(read(tmp_path, part), {"simulate": False}), "chamfer")
    assert chamfers and all(op.entry.startswith("from outside") for op in chamfers)


def test_what_chords_leave_is_no_corner():
    """A circle drawn in 40 chords: 40 (tan 4.5 - 4.5 degrees) of the cutter's radius squared; a square has no such bend."""
    ring = [(math.cos(k * math.pi / 20), math.sin(k * math.pi / 20), 0.0) for k in range(40)]
    view = View(
        direction=(0.0, 0.0, 1.0), kind="closed_pocket", reachable=True, reach_share=1.0, top=1.0, bottom=0.0, depth=1.0,
        outline=[ring],
    )  # fmt: skip
    bend = math.radians(4.5)
    assert chord_bends(view) == pytest.approx(40 * (math.tan(bend) - bend), rel=1e-6)
    assert chord_bends(view.model_copy(update={"outline": [[(0, 0, 0), (9, 0, 0), (9, 9, 0), (0, 9, 0)]]})) == 0.0


def test_where_no_cutter_turns_in_a_hollow_the_smallest_that_reaches_is_taken_and_said(tmp_path):
    """Grooves of 1 mm radius, 30 mm tall: a 2 mm end mill does not reach within ten diameters."""
    part = cq.Workplane("XY").circle(20).extrude(30)
    for k in range(6):
        groove = cq.Workplane("XY").center(20, 0).circle(1).extrude(30)
        part = part.cut(groove.rotate((0, 0, 0), (0, 0, 1), 60 * k))
    result = plan(read(tmp_path, part), {"simulate": False})
    finish = min(operations(result, "finish outside"), key=lambda op: op.tool.DC)
    smaller = [t for t in default_cutters().of("endmill") if finish.tool.DC > t.DC and (t.LU or 0) >= 31]
    assert finish.tool.DC > 2.0 and not [t for t in smaller if 10 * t.DC >= 31]
    assert any(f.code == "corner_left" for f in result.findings)
    assert operations(result, "rest rough outside")
    assert "none turns in inner corners of 1 mm" in finish.because[0]
