"""Plane faces that pass without the kernel's check, and what must not pass."""

from __future__ import annotations

from dataclasses import replace

import cadquery as cq
import pytest

from recognizer.kernel.plain_check import doubtful_faces
from recognizer.kernel.snapshot import snapshot_of
from recognizer.snapshot import Snapshot


def _block() -> cq.Workplane:
    return cq.Workplane().box(40, 30, 10, centered=False)


def _taken(work: cq.Workplane) -> Snapshot:
    return snapshot_of(work.val().wrapped)


def _with_edge(s: Snapshot, index: int, **changes) -> Snapshot:
    edges = list(s.edges)
    edges[index] = replace(edges[index], **changes)
    return replace(s, edges=tuple(edges))


def test_plane_faces_between_lines_and_arcs_are_plainly_valid():
    """Of a block with two holes and a rounded pocket only the curved faces are left to the kernel."""
    work = _block().faces(">Z").workplane(centerOption="CenterOfBoundBox").pushPoints([(-10, 0), (10, 5)]).hole(6)
    work = work.cut(cq.Workplane(origin=(20, 8, 6)).rect(12, 8).extrude(4).edges("|Z").fillet(2))
    s = _taken(work)
    curved = [f.index for f in s.faces if f.kind != "plane"]
    assert len(curved) == 6
    assert doubtful_faces(s) == curved


def test_mirrored_part_is_plainly_valid():
    assert doubtful_faces(_taken(_block().faces(">Z").workplane().rect(9, 7).cutBlind(-3).mirror("YZ"))) == []


@pytest.mark.parametrize("shift, doubtful", [(0.0, 0), (1e-3, 2)])
def test_corner_out_of_place_is_doubtful(shift, doubtful):
    """One end of an edge moved: its two faces no longer close there, and the third face at the corner is untouched."""
    s = _taken(_block())
    (x, y, z), end = s.edges[0].points
    moved = _with_edge(s, 0, points=((x + shift, y + shift, z + shift), end))
    assert len(doubtful_faces(moved)) == doubtful


def test_edge_off_its_plane_is_doubtful():
    s = _taken(_block())
    lifted = replace(s.faces[0].surface, origin=tuple(c + 1e-3 for c in s.faces[0].surface.origin))
    faces = (replace(s.faces[0], surface=lifted), *s.faces[1:])
    assert doubtful_faces(replace(s, faces=faces)) == [0]


def test_loop_the_wrong_way_round_is_doubtful():
    s = _taken(_block())
    (loop,) = s.faces[0].loops
    back = replace(s.faces[0], loops=(tuple((e, not forward) for e, forward in reversed(loop)),))
    assert doubtful_faces(replace(s, faces=(back, *s.faces[1:]))) == [0]


def test_hole_that_reaches_over_its_face_is_doubtful():
    """A circle of 3 mm radius moved until it crosses the outer loop by 2 um: its arcs' 10 degree chords would not tell."""
    s = _taken(_block().faces(">Z").workplane(centerOption="CenterOfBoundBox").hole(6))
    whole = [f.index for f in s.faces if f.kind != "plane"]
    rims = [e.index for e in s.edges if e.curve == "circle"]
    for over, more in ((-0.005, 0), (0.002, 2)):
        moved = s
        for e in rims:
            far = (0.0, 12.0 + over, 0.0)
            points = tuple((x, y + far[1], z) for x, y, z in s.edges[e].points)
            cx, cy, cz = s.edges[e].centre
            moved = _with_edge(moved, e, points=points, centre=(cx, cy + far[1], cz))
        assert len(doubtful_faces(moved)) == len(whole) + more


def test_crossing_outline_is_doubtful():
    """Two corners of a face swapped: a bow tie."""
    s = _taken(_block())
    top = next(f for f in s.faces if f.surface.axis == pytest.approx((0, 0, 1)))
    a, b = (0.0, 0.0, 10.0), (40.0, 0.0, 10.0)
    swap = {a: b, b: a}
    edges = tuple(
        replace(e, points=tuple(swap.get(tuple(round(c, 9) for c in p), p) for p in e.points)) for e in s.edges
    )
    assert top.index in doubtful_faces(replace(s, edges=edges))
