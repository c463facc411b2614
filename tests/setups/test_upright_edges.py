"""Edges along the cutter's axis: broken by the wall's finish on its way round the corner; the checker has a rule of its own.

Geometry by eye: a block has four upright edges, eight that lie flat. Turning the corner is common practice, no source.
"""

from __future__ import annotations

import cadquery as cq
import pytest

from planner import plan
from planner.checker import check
from recognizer import recognize

SIZE = (100.0, 60.0, 20.0)


@pytest.fixture(scope="module")
def block(tmp_path_factory):
    """A plain block with a pocket that opens on +x, read from its STEP file."""
    path = tmp_path_factory.mktemp("parts") / "block.step"
    part = cq.Workplane("XY").box(*SIZE, centered=False)
    part = part.cut(cq.Workplane("XY").box(40, 20, 8, centered=False).translate((60, 20, 12)))
    cq.exporters.export(part, str(path))
    return recognize(path)


def lie(edge, axis):
    """Whether an edge runs along a main axis."""
    return abs(abs(edge.start[axis] - edge.end[axis]) - edge.length) < 1e-6


def turned(result):
    """(operation, edge index) of edges that a wall's finish breaks."""
    return [(s, op, e) for s in result.setups for op in s.operations if op.features for e in op.edges]


def test_corners_of_the_contour_are_broken_on_the_way(block):
    result = plan(block, {"simulate": False})
    by_index = {e.index: e for e in block.edges}
    assert result.proof.checker == []
    found = turned(result)
    upright = {e.index for e in block.edges if lie(e, 2)}
    assert len(upright) == 6, "four corners of the block, two beside the pocket's mouth"
    assert len({e for _, _, e in found}) >= 4, "the corners that no chamfer cutter breaks in these setups"
    for setup, op, index in found:
        edge = by_index[index]
        axis = max(range(3), key=lambda i: abs(setup.direction[i]))
        assert lie(edge, axis) and op.kind == "side_finish_milling" and op.tool.kind == "endmill"
        assert set(edge.faces) & set(op.faces)
        assert any("upright edge" in text for text in op.because)
    broken = [e for s in result.setups for op in s.operations for e in op.edges]
    assert len(broken) == len(set(broken)), "no edge is broken twice"


def test_minutes_and_setups_add_up(block):
    """A corner between walls of two operations costs the way to it and back, a level: D + 2 x 2 mm at the wall's feed."""
    result = plan(block, {"simulate": False})
    change = result.job.machine["tool_change"]
    total = sum(op.minutes for s in result.setups for op in s.operations) + result.totals.tool_changes * change
    assert result.totals.minutes == pytest.approx(total)
    assert sum(s.minutes for s in result.setups) == pytest.approx(total)


@pytest.mark.parametrize("how", ["cutter", "levels", "faces", "held"])
def test_the_checker_tells_a_corner_that_is_not_passed(block, how):
    result = plan(block, {"simulate": False})
    setup, op, _ = turned(result)[0]
    if how == "cutter":
        op.tool = op.tool.model_copy(update={"kind": "ball_endmill"})
    if how == "levels":
        op.levels.bottom, op.levels.break_through = op.levels.bottom + 6.0, 0.0
    if how == "faces":
        op.edges = [next(e.index for e in block.edges if not set(e.faces) & set(op.faces) and lie(e, 2))]
    if how == "held":
        clamping = next(c for c in result.clampings if c.id == setup.clamping)
        clamping.rest_faces = [f for e in block.edges if e.index in op.edges for f in e.faces]
    assert {"edge_not_reachable", "edge_held"} & {f.code for f in check(result, block)}


def test_blunt_edges_are_left(tmp_path):
    """A 45 degree chamfer leaves two edges that turn 45 degrees, as blunt as an edge break leaves them: nothing is done."""
    path = tmp_path / "chamfered.step"
    cq.exporters.export(cq.Workplane("XY").box(*SIZE).edges(">Z and >Y").chamfer(3.0), str(path))
    document = recognize(path)
    blunt = {e.index for e in document.edges if e.angle < 46.0}
    result = plan(document, {"simulate": False})
    assert len(blunt) == 2 and not blunt & {e for s in result.setups for op in s.operations for e in op.edges}
    assert result.proof.checker == []
