"""Directions are looked along side by side in one pass: what is said of one must not depend on the others."""

from __future__ import annotations

import cadquery as cq
import numpy as np
import pytest

from recognizer.access import pipeline
from recognizer.access.close import CloseBy, _nearest
from recognizer.access.mesh import mesh_of
from recognizer.access.scene import Scene
from recognizer.access.together import _of_boxes
from recognizer.kernel.snapshot import snapshot_of
from tests.access.parts import flat, reach_of, share, shop, view

SIX = [(1.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)]


def _block() -> cq.Workplane:
    """A pocket with a round boss, a slanted side, a cross hole and a countersink."""
    made = cq.Workplane().box(60, 40, 20, centered=False)
    made = made.faces(">Z").workplane(origin=(20, 20, 20)).rect(24, 24).cutBlind(-8)
    made = made.union(cq.Workplane("XY", origin=(20, 20, 10)).circle(4).extrude(7))
    made = made.faces(">Z").workplane(origin=(48, 12, 20)).cskHole(6, 12, 90)
    made = made.cut(cq.Workplane("XZ", origin=(48, 50, 10)).circle(2).extrude(60))
    return made.cut(cq.Workplane("XZ").polyline([(0, 12), (0, 20), (5, 20)]).close().extrude(-40))


def test_what_is_said_of_a_direction_does_not_depend_on_the_others() -> None:
    table = shop(flat(4.0), flat(10.0, length=15.0, holder=[(30.0, 50.0)]))
    together = reach_of(_block(), table, directions=SIX)
    for d in SIX:
        alone = reach_of(_block(), table, directions=[d])
        assert len([v for f in together.faces for v in f.views if together.directions[v.direction].vector == d]) == len(
            [v for f in alone.faces for v in f.views]
        )
        for face in alone.faces:
            one, two = view(face, alone, d), view(together.faces[face.index], together, d)
            if one is None:
                continue
            assert two is not None
            figures = [(v.seen, v.touched, v.stick_out, share(v, "D4"), share(v, "D10")) for v in (one, two)]
            assert figures[0] == pytest.approx(figures[1], abs=1e-4), (d, face.index)
            assert (one.lies, one.largest) == (two.lies, two.largest)


def test_looks_that_let_go_of_what_they_made_say_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    part = _block()
    kept = reach_of(part, shop(flat(4.0), flat(10.0)), directions=SIX)
    monkeypatch.setattr(pipeline, "AT_ONCE", 1)
    apart = reach_of(part, shop(flat(4.0), flat(10.0)), directions=SIX)
    monkeypatch.setattr(pipeline, "FEW_LOOKS", 0)
    assert reach_of(part, shop(flat(4.0), flat(10.0)), directions=SIX) == apart
    assert [f.verdict for f in apart.faces] == [f.verdict for f in kept.faces]


def _bore(*more: cq.Workplane) -> cq.Workplane:
    made = cq.Workplane().box(40, 40, 30, centered=False).faces(">Z").workplane(origin=(20, 20, 30)).hole(12, 20)
    for one in more:
        made = made.cut(one)
    return made


def _walls(part: cq.Workplane, radius: float) -> list[int]:
    return [
        f.index for f in snapshot_of(part.val().wrapped).faces if f.kind == "cylinder" and f.surface.radius == radius
    ]


def test_a_whole_bore_and_its_bottom_are_not_looked_into_from_the_side() -> None:
    part = _bore()
    snapshot = snapshot_of(part.val().wrapped)
    names, *_ = mesh_of(snapshot).bored
    bottom = [
        f.index for f in snapshot.faces if f.kind == "plane" and f.area == pytest.approx(36 * np.pi)
    ]  # pi r^2, r = 6
    assert sorted(names.tolist()) == sorted(_walls(part, 6.0) + bottom)
    reach = reach_of(part, directions=SIX)
    for i in names.tolist():
        assert [reach.directions[v.direction].vector for v in reach.faces[i].views] == [SIX[4]]
        assert reach.faces[i].exact


def test_a_bore_that_is_open_to_the_side_is_looked_into() -> None:
    """A cross hole, a slot through its wall, or half a bore: some rays from its wall leave the part."""
    cross = cq.Workplane("XZ", origin=(20, 50, 20)).circle(2).extrude(30)
    slot = cq.Workplane().box(30, 4, 12, centered=False).translate((20, 18, 18))
    for part in (_bore(cross), _bore(slot)):
        assert not set(_walls(part, 6.0)) & set(mesh_of(snapshot_of(part.val().wrapped)).bored[0].tolist())
    half = cq.Workplane().box(40, 20, 30, centered=False).faces(">Z").workplane(origin=(20, 0, 30)).circle(6)
    assert not len(mesh_of(snapshot_of(half.cutBlind(-20).val().wrapped)).bored[0])


def test_a_bore_in_two_half_faces_is_whole() -> None:
    """Many systems split a bore's wall into two faces; a cut down to its middle and filled again leaves such."""
    half = cq.Workplane("XY", origin=(0, 0, 0)).circle(6).extrude(20).cut(
        cq.Workplane().box(20, 10, 40, centered=(True, False, True))
    )  # fmt: skip
    other = half.rotate((0, 0, 0), (0, 0, 1), 180)
    block = cq.Workplane().box(40, 40, 20, centered=(True, True, False))
    part = block.cut(half, clean=False).cut(other, clean=False)
    walls = _walls(part, 6.0)
    names = mesh_of(snapshot_of(part.val().wrapped)).bored[0].tolist()
    assert len(walls) == 2
    assert set(walls) <= set(names)


def test_cells_miss_no_edge_near_a_face() -> None:
    """Against every edge within 25 mm of every face's box, one by one."""
    made = cq.Workplane().box(150, 90, 20, centered=False)
    for k in range(8):
        made = made.faces(">Z").workplane(origin=(10 + 18 * k, 20 + 6 * k, 20)).rect(6, 5).cutBlind(-2.0 - k)
    scene = Scene(mesh_of(snapshot_of(made.val().wrapped)), [SIX[4]], 50.0)
    close, breaks = CloseBy(scene, np.arange(scene.faces)), scene.breaks
    kept = close.kept(0, breaks)
    p, c = scene.pieces, scene.chords
    low, high = np.minimum(c.a, c.b)[:, :2], np.maximum(c.a, c.b)[:, :2]
    for f in range(scene.faces):
        own = p.side_a[p.face[p.side_piece] == f][:, :2]
        near = ((low <= own.max(axis=0) + 25) & (high >= own.min(axis=0) - 25)).all(axis=1)
        wanted = {int(k) for z in (c.a[near, 2], c.b[near, 2]) for k in _nearest(breaks, z)}
        assert wanted <= set(np.flatnonzero(kept[f]).tolist())
    assert not kept.all(), "far levels are left out, or the test shows nothing"


def test_rectangles_together_cover_what_inclusion_and_exclusion_say() -> None:
    ring = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 5.0], [0.0, 5.0]])
    box = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    quads = np.array([box * [6, 3], box * [4, 5] + [5, 0], box * [2, 1] + [0, 4]])
    # 18 + 20 - 1 x 3 common + 2, of 50
    assert _of_boxes(ring, quads) == pytest.approx((18 + 20 - 3 + 2) / 50)
    turn = np.array([[0.6, 0.8], [-0.8, 0.6]])
    assert _of_boxes(ring @ turn, quads @ turn) == pytest.approx(37 / 50)
    assert _of_boxes(ring @ turn, quads) is None
