"""Thin walls are said with their thickness, which is known by construction."""

from __future__ import annotations

import cadquery as cq
import pytest


def block() -> cq.Workplane:
    return cq.Workplane().box(60, 40, 20)


def thin(document) -> list[str]:
    return [f.message.partition(" mm")[0] for f in document.findings if f.code == "thin_wall"]


def two_pockets(wall: float) -> cq.Workplane:
    tool = cq.Workplane().box(20, 30, 10)
    return block().cut(tool.translate((-10 - wall / 2, 0, 5))).cut(tool.translate((10 + wall / 2, 0, 5)))


@pytest.mark.parametrize(
    "part",
    [
        two_pockets(0.2),
        block().cut(cq.Workplane().box(20, 20, 20).translate((0, 0, 0.2))),
        block().faces(">Z").workplane().center(0, 20 - 4 - 0.2).hole(8),
        block().faces(">Z").workplane().pushPoints([(-4.1, 0), (4.1, 0)]).hole(8),
        cq.Workplane().circle(20).circle(19.8).extrude(30),
    ],
    ids=["between pockets", "under a pocket", "between a bore and a side", "between bores", "a tube"],
)
def test_a_wall_of_two_tenths_is_said(features_of, part: cq.Workplane) -> None:
    assert thin(features_of(part)) == ["a wall of 0.2"]


@pytest.mark.parametrize(
    "part",
    [
        two_pockets(0.6),
        block().faces(">Z").workplane().rect(20, 20).cutBlind(-0.2),
        block().cut(cq.Workplane().box(0.2, 40, 10).translate((0, 0, 5))),
        block().faces(">Z").workplane().center(0, 15.8).circle(4).cutBlind(-0.3),
    ],
    ids=["thick enough", "a shallow pocket", "a narrow slit", "a bore hardly deeper than its wall"],
)
def test_what_is_no_thin_wall_is_not_said(features_of, part: cq.Workplane) -> None:
    assert thin(features_of(part)) == []
