"""Every feature answers what a programmer asks, whatever its kind: the questions of the shop floor, one a test.

What a programmer asks: common practice, no source. The parts are those of our own telescope mount.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from recognizer import recognize
from shared.features import HOLE_KINDS, POCKET_KINDS, Feature, FeaturesDocument

MODELS = sorted((Path(__file__).parents[2] / "models").glob("*.step"))
UNSEEN = ("enclosed_void",)
"""What no tool can enter has no views."""


@cache
def document(path: Path) -> FeaturesDocument:
    """Features of a demo part."""
    return recognize(path)


def features(path: Path, kinds: tuple[str, ...] | None = None) -> list[Feature]:
    """Features of a demo part, of some kinds or of all that can be cut."""
    return [f for f in document(path).features if (f.kind in kinds if kinds else f.kind not in UNSEEN)]


@pytest.fixture(params=MODELS, ids=lambda p: p.stem)
def part(request: pytest.FixtureRequest) -> Path:
    """Each demo part in turn."""
    return request.param  # type: ignore[no-any-return]


def test_why_is_it_of_this_kind(part: Path) -> None:
    assert all(f.because and all(len(reason) > 8 for reason in f.because) for f in document(part).features)


def test_from_where_is_it_cut_and_between_which_levels(part: Path) -> None:
    for f in features(part):
        assert f.views, f.id
        for v in f.views:
            assert abs(sum(c * c for c in v.direction) - 1) < 1e-9
            assert v.depth == pytest.approx(v.top - v.bottom, abs=1e-6) and v.depth > -1e-6
            assert v.reachable or v.blocked_by or v.reach_share < 1, f.id


def test_which_sides_are_open_and_along_which_edges(part: Path) -> None:
    for f in features(part, POCKET_KINDS):
        view = f.views[0]
        assert (f.open_sides, f.closed_sides) == (view.open_sides, view.closed_sides)
        counted = [s for s in view.sides if not s.corner]
        assert sum(s.open for s in counted) == view.open_sides
        for s in view.sides:
            assert s.start != s.end or s.radius or len(view.sides) == 1, (f.id, s)
            assert s.open or s.faces, (f.id, s)
        assert (f.open_sides == 0) == (f.kind == "closed_pocket"), f.id


def test_how_does_it_end_at_the_bottom(part: Path) -> None:
    for f in features(part, (*POCKET_KINDS, *HOLE_KINDS)):
        assert f.bottom_condition, f.id
        through = f.bottom_condition == "through"
        rounded = f.bottom_condition in ("general", "radiused")
        assert through or f.bottom or any(v.floor_radius for v in f.views) or rounded, f.id


def test_which_cutter_passes_and_what_corners_must_it_fit(part: Path) -> None:
    for f in features(part, ("closed_pocket", "open_pocket", "slot")):
        view = f.views[0]
        assert view.largest_cutter is not None and view.largest_cutter > 0, f.id
        if f.kind == "closed_pocket":
            assert view.narrowest_gap is not None and 0 < view.narrowest_gap <= view.largest_cutter + 0.05, f.id
        if view.corner_radius is not None and f.kind == "closed_pocket" and not view.islands:
            assert view.corner_radius <= view.largest_cutter / 2 + 0.05, f.id
        assert view.islands >= 0 and view.outline


def test_what_is_a_hole_for_is_a_hint_with_its_source(part: Path) -> None:
    for f in features(part, tuple(HOLE_KINDS)):
        assert f.axis is not None and f.steps and f.dimensions["diameter"] > 0 and f.dimensions["depth"] > 0
        assert all(h.source and h.text for h in f.hints), f.id


def test_an_8_5_mm_hole_is_a_tap_drill_and_a_clearance_hole(tmp_path: Path) -> None:
    """ISO 2306 (tap drill 8.5 for M10) and ISO 273 (clearance hole 8.4 to 9 for M8)."""
    import cadquery as cq

    path = tmp_path / "hole.step"
    cq.exporters.export(cq.Workplane().box(30, 30, 10).faces(">Z").workplane().hole(8.5), str(path))
    hole = next(f for f in recognize(path).features if f.kind == "round_hole")
    assert any(h.use == "tap_drill" and h.size == "M10" for h in hole.hints)


def test_what_does_it_open_on(part: Path) -> None:
    known = {f.id for f in document(part).features}
    assert all(p in known and p != f.id for f in document(part).features for p in f.inside)
    assert any(f.inside for f in document(part).features)
