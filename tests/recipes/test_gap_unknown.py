"""An unknown gap is said: a plan must not look surer than what it was made from. Common practice, no source."""

from planner.recipes.pockets import gap_unknown
from shared.features import Feature, View


def view(**given: object) -> View:
    plain = {
        "direction": (0.0, 0.0, 1.0),
        "kind": "closed_pocket",
        "reachable": True,
        "reach_share": 1.0,
        "top": 10.0,
        "bottom": 0.0,
        "depth": 10.0,
        "closed_sides": 4,
    }
    return View(**{**plain, **given})  # type: ignore[arg-type]


POCKET = Feature(id="closed_pocket-1", kind="closed_pocket", faces=[0, 1], because=["test"])


def test_unknown_gap_between_walls_is_a_warning() -> None:
    assert [f.code for f in gap_unknown(POCKET, view(narrowest_gap=None))] == ["gap_unknown"]


def test_known_gap_and_lone_wall_are_not() -> None:
    assert gap_unknown(POCKET, view(narrowest_gap=12.0)) == []
    assert gap_unknown(POCKET, view(narrowest_gap=None, closed_sides=1)) == []
