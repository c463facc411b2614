"""The comparison finds every kind of difference: a measure that cannot fail measures nothing."""

from __future__ import annotations

from dataclasses import replace

import pytest

from shared.features import Axis, Feature, HoleStep, View
from tests.benchmarks.fakes import document
from tests.random_parts.build import NZ, X, Z
from tests.random_parts.truth import Expected, differences

RIGHT = Expected(("round_hole",), (Z, NZ), (), "through", {"depth": 20.0}, (8.0,), volume=1005.31, at=(1.0, 2.0, 7.0))


def _view(direction: tuple[float, float, float]) -> View:
    return View(
        direction=direction,
        kind="round_hole",
        reachable=True,
        reach_share=1.0,
        top=20.0,
        bottom=0.0,
        depth=20.0,
        through=True,
    )


def _found() -> Feature:
    return Feature(
        id="f1",
        kind="round_hole",
        faces=[0],
        views=[_view(Z), _view(NZ)],
        axis=Axis(origin=(1.0, 2.0, 20.0), direction=Z),
        bottom_condition="through",
        steps=[HoleStep(surface="cylinder", diameter=8.0, end_diameter=8.0, top=20.0, bottom=0.0, faces=[0])],
        removal_volume=1005.31,
        because=["fake"],
    )


def test_right_document_has_no_differences() -> None:
    assert differences(document(["cylinder"], [_found()]), [RIGHT]) == []


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"kinds": ("closed_pocket",)}, "kind round_hole"),
        ({"directions": (Z, NZ, X)}, "not reachable from [1.0, 0.0, 0.0]"),
        ({"directions": (Z,)}, "reachable from [0.0, 0.0, -1.0], which it is not"),
        ({"bottom_condition": "flat"}, "bottom_condition through, not flat"),
        ({"dimensions": {"depth": 20.1}}, "depth 20.000, not 20.100"),
        ({"dimensions": {"angle": 90.0}}, "angle unknown"),
        ({"diameters": (8.0, 4.0)}, "diameters [8.0]"),
        ({"volume": 1010.0}, "removal_volume"),
        ({"at": (1.0, 2.1, 0.0)}, "axis does not pass"),
        ({"profile": "tee"}, "profile None, not tee"),
    ],
)
def test_each_difference_is_said(changes: dict, said: str) -> None:
    (line,) = differences(document(["cylinder"], [_found()]), [replace(RIGHT, **changes)])
    assert said in line


def test_missing_and_extra_features_are_said() -> None:
    doc = document(["cylinder"], [_found()])
    assert differences(doc, []) == ["extra: round_hole f1 faces [0]"]
    (line,) = differences(doc, [RIGHT, Expected(("slot",))])
    assert line.startswith("missing: slot")


def test_stock_faces_are_no_extra_features() -> None:
    face = Feature(id="f2", kind="planar_face", faces=[0], because=["fake"])
    assert differences(document(["plane"], [face]), []) == []


def test_unclaimed_faces_are_said() -> None:
    assert differences(document(["plane"], []), []) == ["faces [0] have neither a feature nor a reason"]
