"""Sharp edges: a chamfer cutter of 10 mm does not go through walls, into narrow steps, or deeper than it is long."""

from __future__ import annotations

import cadquery as cq
import pytest

from planner import plan
from planner.checker import check
from recognizer import recognize


@pytest.fixture
def read(tmp_path):
    """Writes a shape as STEP and recognizes it."""

    def write(shape):
        path = tmp_path / "part.step"
        cq.exporters.export(shape, str(path))
        return recognize(path)

    return write


def broken_from(document, direction, where):
    """Indices of edges that `where(start, end)` picks and that are reached along a direction."""
    return [e.index for e in document.edges if direction in e.directions and where(e.start, e.end)]


def block(x=100.0, y=60.0, z=40.0):
    return cq.Workplane("XY").box(x, y, z, centered=False)


def test_not_through_a_wall(read):
    """The end wall of a pocket open on one side is hidden from -x by the wall across: a ledge 40 mm of metal in front."""
    part = block().cut(cq.Workplane("XY").box(20, 25, 40, centered=False).translate((40, 0, 0)))
    document = read(part)

    def end_wall(a, b):
        return a[0] == b[0] == pytest.approx(60.0) and a[2] == pytest.approx(40.0) == b[2]

    assert broken_from(document, (0.0, 0.0, 1.0), end_wall), "its top edge is in plain sight from above"
    for e in document.edges:
        if abs(e.start[0] - 60.0) < 1e-6 and abs(e.end[0] - 60.0) < 1e-6:
            assert (-1.0, 0.0, 0.0) not in [tuple(c + 0.0 for c in d) for d in e.directions]


@pytest.mark.parametrize("width, free", [(3.0, False), (4.0, False), (6.0, True), (20.0, True)])
def test_not_beside_a_wall(read, width, free):
    """The outer edge of a step whose wall is nearer than the cutter's body (5 mm less 0.5) cannot be broken from above."""
    part = block().cut(cq.Workplane("XY").box(100, width, 20, centered=False).translate((0, 0, 20)))
    document = read(part)

    def outer(a, b):
        return abs(a[1]) < 1e-6 and abs(b[1]) < 1e-6 and abs(a[2] - 20.0) < 1e-6 and abs(b[2] - 20.0) < 1e-6

    assert bool(broken_from(document, (0.0, 0.0, 1.0), outer)) is free


def test_not_deeper_than_the_cutter(read):
    """50 mm below the top a cutter of 30 mm usable length is in with its holder: left to hand, and the checker knows."""
    part = block(100, 60, 80).cut(cq.Workplane("XY").box(100, 30, 50, centered=False).translate((0, 0, 30)))
    document = read(part)
    result = plan(document)
    assert not result.proof.checker
    by_index = {e.index: e for e in document.edges}
    size = (100.0, 60.0, 80.0)
    deepest = 0.0
    for setup in result.setups:
        top = max(0.0, sum(c * n for c, n in zip(setup.direction, size, strict=True)))
        for op, index in [(o, e) for o in setup.operations if not o.features for e in o.edges]:
            edge = by_index[index]
            level = next(at for d, at in zip(edge.directions, edge.levels, strict=True) if d == setup.direction)
            deepest = max(deepest, top - level)
            assert top - level <= (op.tool.LU or 0.0) + 1e-6
    reached = [(d, at) for e in document.edges for d, at in zip(e.directions, e.levels, strict=True)]
    assert any(d[2] > 0.9 and abs(at - 30.0) < 1e-6 for d, at in reached), "edges 50 mm down are in sight from above"
    for setup in result.setups:
        for op in setup.operations:
            op.tool = op.tool.model_copy(update={"LU": deepest - 1.0}) if op.edges and not op.features else op.tool
    assert deepest > 1.0 and "edge_too_deep" in {f.code for f in check(result, document)}
