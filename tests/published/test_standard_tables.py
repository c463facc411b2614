"""The standards' tables in shared/tables against the rules and figures that the standards print."""

from __future__ import annotations

import pytest

from shared.cutters import default_cutters
from shared.tables.load import (
    _rows,
    counterbore_hints,
    countersink_hints,
    hole_hints,
    run_out,
    thread,
    threads,
)

METRIC = sorted(size for size in threads() if size.startswith("M"))
INCH = sorted(size for size in threads() if not size.startswith("M"))
TABLES = ["iso_261.csv", "iso_2306.csv", "iso_273.csv", "iso_4762.csv", "din_974_1.csv", "din_76_2.csv", "din_74.csv"]


def uses(diameter: float) -> set[tuple[str, str]]:
    return {(hint.use, hint.size) for hint in hole_hints(diameter)}


@pytest.mark.parametrize(
    ("size", "drill"), [("M3", 2.5), ("M8", 6.8), ("M10", 8.5), ("M12", 10.2), ("M20", 17.5), ("M24", 21.0)]
)
def test_tap_drills(size: str, drill: float) -> None:
    """Source: ISO 2306:1972 table 1 (M3 to M8), public tap charts (all)."""
    assert threads()[size].drill == drill


@pytest.mark.parametrize("size", METRIC)
def test_tap_drill_is_diameter_less_pitch(size: str) -> None:
    """Source: common practice: drill = D - P, rounded to the drill series of 0.1 and 0.5 mm."""
    row = threads()[size]
    assert abs(row.drill - (row.D - row.P)) <= 0.0501


@pytest.mark.parametrize("size", METRIC)
def test_thread_engagement_of_metric_tap_drills(size: str) -> None:
    """Source: computed for checks from ISO 724: 88.7 to 95 % of 1.0825 P stay between drill and nominal diameter."""
    row = threads()[size]
    assert 0.88 < (row.D - row.drill) / (row.D - row.minor) < 0.975


@pytest.mark.parametrize("size", INCH)
def test_thread_engagement_of_inch_tap_drills(size: str) -> None:
    """Source: ASME B1.1 charts for 75 % thread: engagement 65 to 80 % of 1.299 P."""
    row = threads()[size]
    assert 0.64 < (row.D - row.drill) / (1.299038 * row.P) < 0.81


@pytest.mark.parametrize(
    ("size", "minor"), [("M3", 2.459), ("M6", 4.917), ("M12", 10.106), ("M20", 17.294), ("M24", 20.752)]
)
def test_minor_diameters(size: str, minor: float) -> None:
    """Source: DIN 13-1 / ISO 724, D1 = D - 1.082532 P."""
    assert threads()[size].minor == pytest.approx(minor, abs=6e-4)


def test_clearance_of_m12_is_that_of_iso_273() -> None:
    """Source: ISO 273:1979 table 1: 13 / 13.5 / 14.5. A public data file prints 14 / 15: not copied."""
    assert {("clearance", "M12")} <= uses(13.5) and {("clearance", "M12")} <= uses(14.5)
    assert ("clearance", "M12") not in uses(14.0) | uses(15.0)


def test_one_diameter_can_mean_several_things() -> None:
    """Source: ISO 2306 and ISO 273: 9 mm is M8 medium clearance and the M10x1 tap drill; 10.5 M10 fine and M12x1.5."""
    assert uses(9.0) == {("tap_drill", "M10x1"), ("clearance", "M8")}
    assert uses(10.5) == {("tap_drill", "M12x1.5"), ("clearance", "M10")}
    assert uses(11.0) == {("clearance", "M10")}
    assert {hint.size for hint in counterbore_hints(11.0)} == {"M6"}


def test_dowel_diameters_are_hints_for_h7() -> None:
    """Source: ISO 2338 / ISO 8734 pin diameters, from memory."""
    assert ("dowel", "8 H7") in uses(8.0)
    assert not uses(7.37)


def test_inch_tap_drill_does_not_catch_a_metric_hole() -> None:
    """Source: ASME B1.1 chart, 1/4-20 drill 0.201 in = 5.1054 mm; a 5.1 mm hole is a metric one."""
    assert ("tap_drill", "1/4-20") in uses(5.1054)
    assert ("tap_drill", "1/4-20") not in uses(5.1)


@pytest.mark.parametrize(
    ("pitch", "normal", "short"), [(0.5, 2.8, 1.8), (1.25, 6.2, 3.9), (1.5, 7.3, 4.6), (2.5, 11.2, 7.0)]
)
def test_thread_run_out(pitch: float, normal: float, short: float) -> None:
    """Source: DIN 76-2, e1 of blind holes."""
    assert run_out(pitch) == normal and run_out(pitch, short=True) == short


@pytest.mark.parametrize(("size", "depth"), [("M3", 3.4), ("M4", 4.4), ("M5", 5.4), ("M6", 6.4), ("M8", 8.6)])
def test_counterbore_depths(size: str, depth: float) -> None:
    """Source: DIN 974-1: k + 0.4 up to M6, k + 0.6 up to M20."""
    assert float(next(r["depth"] for r in _rows("din_974_1.csv") if r["size"] == size)) == pytest.approx(depth)


def test_countersink_forms() -> None:
    """Source: DIN 74-F M8 18.25; DIN 74-A M8 16.4; ISO 15065 M8 17.3, all 90 degrees."""
    assert [h.size for h in countersink_hints(18.25)] == ["M8"]
    assert [h.size for h in countersink_hints(16.4)] == ["M8"]
    assert countersink_hints(18.25, angle=82.0) == []


@pytest.mark.parametrize("name", TABLES)
def test_every_row_names_its_source(name: str) -> None:
    assert all(row["source"] for row in _rows(name))


@pytest.mark.parametrize("text", ["m12", "M12x1.75", "M12 x 1.75", " M12"])
def test_thread_names_are_read_kindly(text: str) -> None:
    assert thread(text) == threads()["M12"]


@pytest.mark.parametrize("text", ["M12x3", "M13", "12", ""])
def test_unknown_threads_are_none(text: str) -> None:
    assert thread(text) is None


def test_every_tap_drill_is_in_the_default_cutter_table() -> None:
    """Source: ISO 2306 with ISO 235: each tabulated tap drill is a drill that can be bought."""
    table = default_cutters()
    assert [s for s, row in threads().items() if not table.exact("twist_drill", row.drill) or not table.tap(s)] == []


@pytest.mark.parametrize(("diameter", "flute"), [(3, 33), (5, 52), (8, 75), (10, 87), (12, 101), (16, 120), (20, 140)])
def test_jobber_drill_flutes(diameter: float, flute: float) -> None:
    """Source: DIN 338 flute lengths, from memory."""
    assert flute == default_cutters().exact("twist_drill", diameter)[0].LU


@pytest.mark.parametrize(("diameter", "edge"), [(3, 8), (6, 13), (10, 22), (12, 26), (16, 32), (20, 38)])
def test_end_mill_edges(diameter: float, edge: float) -> None:
    """Source: DIN 6527 long form cutting edges, from memory."""
    assert edge in [t.APMX for t in default_cutters().exact("endmill", diameter)]


def test_face_mills_are_standard_sizes() -> None:
    """Source: ISO 6462 sizes, from memory."""
    assert {t.DC for t in default_cutters().of("facemill")} <= {50, 63, 80, 100, 125, 160, 200, 250}
