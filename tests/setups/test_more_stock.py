"""A thicker raw layer that saves a setup is named, and planning with it saves that setup."""

from __future__ import annotations

from functools import cache

import cadquery as cq

from planner import plan
from shared.findings import Finding
from shared.plan import Job, PlanDocument
from tests.closure.parts import document_of


@cache
def _features(kind: str):
    block = cq.Workplane().box(50, 25, 12).faces(">Z").workplane().hole(6)
    return document_of(block.faces("<X").workplane().rect(10, 5).cutBlind(-3) if kind == "pocket beside" else block)


def _plan(kind: str, **job) -> tuple[PlanDocument, list[Finding]]:
    made = plan(_features(kind), Job(reach=False, simulate=False, **job))
    return made, [f for f in made.findings if f.code == "more_stock"]


def test_a_layer_that_jaws_can_grip_saves_the_setup_that_holding_forces():
    """Common practice, no source: the first side is cut with all of the outside above the jaws, the layer faced off last."""
    made, found = _plan("pocket beside")
    assert made.proof.setups.held and made.proof.setups.lower_bound == len(made.setups) == 3
    (said,) = found
    assert "2 setups would do instead of 3" in said.message
    stock = [float(x) for x in said.hint.removeprefix("plan it again with --stock ").split(",")]
    assert (
        sorted(stock) == [2, 2, 2, 2, 2, 5]
        and f"5 mm on {['-x', '+x', '-y', '+y', '-z', '+z'][stock.index(5)]}" in said.message
    )
    again, more = _plan("pocket beside", stock=stock)
    assert len(again.setups) == 2 and not more


def test_nothing_is_said_where_order_alone_forces_the_setups():
    """Raw sides as sawn to size, top and bottom faced: one setup for each."""
    made, found = _plan("plain", stock=[0.0, 0.0, 0.0, 0.0, 2.0, 2.0])
    assert not made.proof.setups.held and len(made.setups) == 2 and not found
