"""A direction that leaves material in corners serves only where no direction makes the feature as drawn."""

from __future__ import annotations

from planner import plan
from planner.kitchen import kitchen_for
from planner.problem import problem_of
from planner.stock import stock_of
from shared.features import View
from shared.plan import Job
from tests.setups.parts import Block, unit


def pocket_with_end_view(clean):
    """A pocket whose corners are 4 mm from +z (sharp if not `clean`), and sharp from -y."""
    block = Block((100.0, 60.0, 30.0))
    name = block.pocket("+z", (20.0, 0.0), (60.0, 30.0), 10.0, corner=4.0 if clean else 0.0, kind="open_pocket")
    pocket = block.feature(name)
    own = pocket.views[0]
    ring = block.outline("-y", (20.0, 20.0), (60.0, 30.0), -30.0)
    pocket.views.append(
        View(
            **{
                **own.model_dump(),
                "direction": unit("-y"),
                "top": 0.0,
                "bottom": -30.0,
                "depth": 30.0,
                "corner_radius": 0.0,
                "corner_count": 2,
                "outline": [ring],
                "length": 40.0,
                "width": 10.0,
                "region_area": 400.0,
                "narrowest_gap": 10.0,
                "largest_cutter": 10.0,
            }
        )  # fmt: skip
    )
    return block.document(), name


def ways_of(document, name):
    job = Job()
    stock = stock_of(job, document.part)
    recipes = kitchen_for(job, document, stock)
    return list(problem_of(document, stock, 3, recipes.feature).works[name].ways)


def test_the_clean_direction_is_the_only_one():
    """From +z its corners turn with a cutter; from -y a round cutter leaves them: common practice, no source."""
    document, name = pocket_with_end_view(clean=True)
    assert ways_of(document, name) == ["+z"]
    result = plan(document)
    assert not any(f.code == "sharp_corner" for f in result.findings)


def test_where_none_is_clean_all_stay():
    """Sharp from both: both stay, and the plan says what is left."""
    document, name = pocket_with_end_view(clean=False)
    assert ways_of(document, name) == ["+z", "-y"]
    assert any(f.code == "sharp_corner" and name in f.features for f in plan(document).findings)
