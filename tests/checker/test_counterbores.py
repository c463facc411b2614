"""Counterbores sunk with their own tool, and back counterbores, broken one by one: the checker tells each."""

from __future__ import annotations

import cadquery as cq
import pytest

from planner import plan
from planner.checker import check
from recognizer import recognize
from shared.cutters import TABLES


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A plate with a counterbore of 15 mm on its far side, 24 mm on the near one, and both tools for them."""
    folder = tmp_path_factory.mktemp("counterbores")
    part = cq.Workplane("XY").box(60, 40, 20, centered=(True, True, False)).faces(">Z").workplane().hole(9.0)
    part = part.cut(cq.Workplane("XY").circle(7.5).extrude(8.6))
    part = part.cut(cq.Workplane("XY").circle(10.0).extrude(4.0).translate((0, 0, 16)))
    cq.exporters.export(part, str(folder / "part.step"))
    rows = [r for r in (TABLES / "cutters.csv").read_text().splitlines() if ",endmill," not in r or ",endmill,20," in r]
    mine = ["CB20x9,counterbore,20,0,30,40,3,,,,,9,HSS,own", "BC15,backside_counterbore,15,0,,60,1,,,,,8,HSS,own"]
    (folder / "shop.csv").write_text("\n".join([*(r for r in rows if not r.startswith("CB20,")), *mine]))
    document = recognize(folder / "part.step")
    return document, plan(document, {"tools": str(folder / "shop.csv"), "simulate": False})


def operation(result, name):
    return next(op for s in result.setups for op in s.operations if op.name == name)


def changed(made, name, **tool):
    document, result = made
    broken = result.model_copy(deep=True)
    op = operation(broken, name)
    op.tool = op.tool.model_copy(update=tool)
    return {f.code for f in check(broken, document)}


def test_the_plan_is_sound(made):
    document, result = made
    assert check(result, document) == [] and not result.unplanned
    assert operation(result, "counterbore").tool.kind == "counterbore"
    assert operation(result, "back counterbore").tool.kind == "backside_counterbore"


@pytest.mark.parametrize(
    ("name", "tool", "code"),
    [
        ("counterbore", {"DC": 18.0}, "drill_diameter"),
        ("counterbore", {"DN": 9.5}, "cutter_too_large"),
        ("counterbore", {"LU": 2.0}, "cutter_too_short"),
        ("counterbore", {"kind": "endmill", "DC": 20.5}, "plunge"),
        ("back counterbore", {"DC": 14.0}, "drill_diameter"),
        ("back counterbore", {"DN": 9.5}, "cutter_too_large"),
        ("back counterbore", {"DN": None}, "cutter_too_large"),
        ("back counterbore", {"kind": "counterbore"}, "step_hidden"),
        ("back counterbore", {"LU": 10.0}, "cutter_too_short"),
    ],
)
def test_each_fault_is_told(made, name, tool, code):
    assert code in changed(made, name, **tool)
