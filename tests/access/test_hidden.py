"""What hides a face, and what does not; parts on which an array has nothing in it."""

from __future__ import annotations

import cadquery as cq
import numpy as np
import pytest

from recognizer.access.obstacles import Nodes
from recognizer.access.strips import Strips
from tests.access.parts import flat, reach_of, share, shop, view

UP = (0.0, 0.0, 1.0)


def sloping_tunnel(start: float, end: float) -> cq.Workplane:
    """A block 20 x 20 x 10 with a step whose floor is at 5 for x > 10, and a tunnel 1 mm high along x under it.

    The tunnel's ceiling falls from level `start` at x = 0 to `end` at x = 20.
    """
    block = cq.Workplane().box(20, 20, 10, centered=False)
    step = cq.Workplane().box(10, 20, 5, centered=False).translate((10, 0, 5))
    outline = [
        (-1, start),
        (0, start),
        (20, end),
        (21, end),
        (21, end - 1),
        (20, end - 1),
        (0, start - 1),
        (-1, start - 1),
    ]
    tunnel = cq.Workplane("XZ").polyline(outline).close().extrude(-8).translate((0, 6, 0))
    return block.cut(step).cut(tunnel)


def test_a_ceiling_that_is_higher_elsewhere_hides_nothing() -> None:
    """The ceiling falls from 9 to 1: over the step's floor it is lower than the floor, whatever its highest point."""
    document = reach_of(sloping_tunnel(9, 1), shop(flat(4)), directions=[UP])
    found = [
        v for f in document.faces if (v := view(f, document, UP)) and v.lies == "floor" and abs(f.area - 200) < 1e-3
    ]
    assert len(found) == 2
    assert all(v.seen == pytest.approx(1.0) and share(v, "D4") == pytest.approx(1.0, abs=1e-3) for v in found)


def test_a_ceiling_hides_a_floor_only_where_it_is_higher() -> None:
    """A ledge whose underside falls from 13 at x = 0 to 3 at x = 20, over a floor at 8: it passes 8 at x = 10."""
    block = cq.Workplane().box(20, 20, 8, centered=False)
    ledge = cq.Workplane("XZ").polyline([(0, 13), (20, 3), (20, 8), (0, 18)]).close().extrude(-5)
    document = reach_of(block.union(ledge), shop(flat(4)), directions=[UP])
    # Of the floor at 8, 20 x 20, the ledge (y from 0 to 5) hides x < 10; beyond x = 10 it has grown into the block.
    floor = next(f for f in document.faces if (v := view(f, document, UP)) and v.lies == "floor")
    assert view(floor, document, UP).seen * floor.area == pytest.approx(20 * 15, abs=0.1)  # type: ignore[union-attr]


def test_strips_of_one_node_are_measured() -> None:
    """A disc of many short facets: no strip has two nodes."""
    nodes = Nodes(np.zeros((2, 2)), np.array([[1.0, 0.0], [0.0, 1.0]]), np.zeros(2), np.zeros(2))
    one = np.ones(2)
    strips = Strips(
        np.array([0, 0]), np.array([0, 1]), one, one, np.zeros((2, 2)), np.zeros((2, 2)), np.ones((2, 2)), nodes,
        np.array([0, 1]), 0.5 * one, one, one,
    )  # fmt: skip
    assert strips.measured(np.array([1.0, -1.0])).tolist() == [1.0, 0.0]
