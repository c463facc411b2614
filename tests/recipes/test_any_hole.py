"""Any hole is planned soundly or refused with a reason: drawn at random, checked by rules that know no recipe."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from planner.recipes import operations_for
from tests.recipes.hand import cone, cylinder, document, hole, job

MM = st.one_of(
    st.floats(0.4, 60.0).map(lambda x: round(x, 2)), st.sampled_from([3.0, 5.0, 6.8, 8.5, 10.0, 10.2, 17.5, 20.0])
)


@settings(max_examples=150, deadline=None)
@given(
    diameters=st.lists(MM, min_size=1, max_size=3, unique=True),
    heights=st.lists(st.floats(0.5, 60.0), min_size=3, max_size=3),
    floor=st.sampled_from(["through", "flat", "conical", "spherical"]),
    mouth=st.one_of(st.none(), st.sampled_from([60.0, 82.0, 90.0, 100.0])),
)
def test_any_hole_is_planned_soundly_or_refused(
    diameters: list[float], heights: list[float], floor: str, mouth: float | None
) -> None:
    sizes = sorted(diameters, reverse=True)
    depth = sum(heights[: len(sizes)])
    steps, top = [], depth
    for size, height in zip(sizes, heights, strict=False):
        steps.append(cylinder(size, top, top - height))
        top -= height
    if mouth:
        steps.insert(0, cone(1.2 * sizes[0], sizes[0], depth + 0.1 * sizes[0], depth, mouth))
    cut = hole(depth, *steps, through=floor == "through", condition=floor, kind="stepped_hole")
    recipe = operations_for(cut, cut.views[0], job(), document(cut))
    assert recipe.operations or recipe.unplanned
    for op in recipe.operations:
        assert op.feed > 0 and op.minutes > 0 and op.power <= 11.0 + 1e-9 and op.speed <= 12000.0
        if op.tool.kind in ("endmill", "ball_endmill"):
            assert max(sizes) + 0.02 >= op.tool.DC, "never wider than the hole"
        if op.tool.kind == "twist_drill":
            assert any(abs(op.tool.DC - s) <= 0.011 or s > op.tool.DC for s in sizes)
            assert op.levels.top - op.levels.bottom <= (op.tool.LU or 0.0)
        if floor != "through":
            lowest = -max(sizes) / 2 if floor == "spherical" else 0.0
            assert op.levels.bottom >= lowest - 1e-6 and op.levels.break_through == 0.0
    names = [op.name for op in recipe.operations]
    assert "spot" not in names or names.index("spot") == 0
    if recipe.unplanned is None:
        served = {f for op in recipe.operations for f in op.faces}
        assert set(cut.faces) <= served, "every face of a planned hole is brought to size by some operation"
