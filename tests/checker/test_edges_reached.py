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


def rims(document, length, tolerance=0.05):
    return [e for e in document.edges if e.length == pytest.approx(length, abs=tolerance)]


def test_the_rim_inside_a_counterbore_is_broken_by_the_cone_further_out(read):
    """6.6 mm in an 11 mm counterbore: beside its tip a 10 mm cutter meets the wall, on the hole's axis it stays 0.5 mm off."""
    part = block(60, 40, 20).faces(">Z").workplane(centerOption="CenterOfBoundBox").cboreHole(6.6, 11.0, 6.0)
    document = read(part)
    inner = [e for e in rims(document, 3.14159 * 6.6) if (0.0, 0.0, 1.0) in e.directions]
    assert len(inner) == 1 and inner[0].touch == [pytest.approx(6.6)]
    result = plan(document, {"simulate": False})
    assert result.proof.checker == []
    assert any(inner[0].index in op.edges for s in result.setups for op in s.operations)


def test_a_rim_in_a_counterbore_narrower_than_the_cutter_is_not(read):
    part = block(60, 40, 20).faces(">Z").workplane(centerOption="CenterOfBoundBox").cboreHole(5.0, 9.0, 6.0)
    assert all((0.0, 0.0, 1.0) not in e.directions for e in rims(read(part), 3.14159 * 5.0))


@pytest.mark.parametrize("height, touch", [(5.0, 1.0), (0.6, 0.7), (0.3, None)])
def test_over_a_low_wall_the_tip_clears_its_foot(read, height, touch):
    """Leg 0.2 and 0.05 of clearance: a wall of 0.6 mm leaves the cone 0.35 mm off its axis, one of 0.3 nothing."""
    part = block(100, 60, 20).cut(
        cq.Workplane("XY").box(30, 60, height, centered=False).translate((70, 0, 20 - height))
    )
    document = read(part)
    up = [
        e
        for e in document.edges
        if e.start[0] == e.end[0] == pytest.approx(70.0) and e.start[2] == e.end[2] == pytest.approx(20.0)
    ]
    assert len(up) == 1
    found = dict(zip(up[0].directions, up[0].touch, strict=True))
    assert found.get((0.0, 0.0, 1.0)) == (None if touch is None else pytest.approx(touch))


def test_the_lip_of_a_dovetail_is_broken_from_above(read):
    wedge = cq.Workplane("XZ").polyline([(40, 20), (60, 20), (66, 10), (34, 10)]).close().extrude(-60)
    document = read(block(100, 60, 20).cut(wedge))
    lips = [e for e in document.edges if e.angle > 100 and e.length == pytest.approx(60.0)]
    assert len(lips) == 2 and all((0.0, 0.0, 1.0) in e.directions for e in lips)


def test_an_edge_of_a_slanting_face_is_seen_along_its_normal(read):
    wedge = cq.Workplane("XZ").polyline([(50, 20), (100, 20), (100, 10)]).close().extrude(-60)
    document = read(block(100, 60, 20).cut(wedge))
    along = [d for e in document.edges for d in e.directions if 0.1 < d[0] < 0.9 and d[2] > 0.5]
    assert along and all(d[2] == pytest.approx(50 / (50**2 + 10**2) ** 0.5) for d in along)


def test_an_edge_whose_wall_comes_later_is_broken_ahead_and_said(read):
    """Two setups, from above and below: the side walls are milled in the second, the first one's rim is broken before."""
    document = read(block(100, 60, 20).faces(">Z").workplane(centerOption="CenterOfBoundBox").rect(40, 20).cutBlind(-8))
    result = plan(document, {"simulate": False})
    assert result.proof.checker == []
    ahead = [
        op for s in result.setups for op in s.operations if any("before their wall is cut" in b for b in op.because)
    ]
    maker = {f: (k, op.id) for k, s in enumerate(result.setups) for op in s.operations for f in op.faces}
    assert ahead, "some wall is cut after the last setup that sees its upper edge"
    first = next(k for k, s in enumerate(result.setups) if ahead[0] in s.operations)
    late = [e for e in document.edges if e.index in ahead[0].edges and max(maker[f][0] for f in e.faces) > first]
    assert late and not any(f.code == "edges_not_broken" for f in result.findings)


def test_below_the_outermost_level_an_edge_ahead_of_its_wall_is_a_fault(read):
    """Beside a step's floor raw material may stand: there an edge waits for both its faces."""
    part = block(100, 60, 20).cut(cq.Workplane("XY").box(30, 60, 8, centered=False).translate((70, 0, 12)))
    document = read(part.faces(">Z[-2]").workplane(centerOption="CenterOfBoundBox").hole(6.6))
    result = plan(document, {"simulate": False})
    low = [e for e in rims(document, 3.14159 * 6.6) if (0.0, 0.0, 1.0) in e.directions]
    assert len(low) == 1
    for setup in result.setups:
        for op in setup.operations:
            op.edges = [i for i in op.edges if i != low[0].index]
    first = next(op for s in result.setups for op in s.operations if op.name == "face" and s.direction[2] > 0.5)
    first.edges, first.features = [low[0].index], []
    assert any(f.code == "edge_too_early" for f in check(result, document))


def test_ahead_of_its_wall_too_where_all_of_the_block_is_cleared(read):
    """A flange round a boss: its floor is cleared over the whole block, its rim is cut from the other side later."""
    part = (
        cq.Workplane("XY").circle(40).extrude(15).union(cq.Workplane("XY").workplane(offset=15).circle(18).extrude(15))
    )
    part = part.cut(cq.Workplane("XY").circle(12).extrude(10))
    document = read(part)
    result = plan(document, {"simulate": False})
    assert result.proof.checker == []
    rim = [e for e in rims(document, 2 * 3.14159 * 40, 0.5) if (0.0, 0.0, 1.0) in e.directions]
    assert len(rim) == 1
    assert any(rim[0].index in op.edges for s in result.setups for op in s.operations)
