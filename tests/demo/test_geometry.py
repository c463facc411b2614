"""The demo parts themselves: sound solids with the volume that arithmetic gives, in the files they claim to be.

Sources: volumes are arithmetic on each cut's dimensions (models/cutting, Pappus' theorem for radii and chamfers);
clearance, tap drill and counterbore sizes are named in the parts by ISO 273, ISO 2306 and DIN 974-1; the schema
names are those of ISO 10303-203, -214 and -242 as written in a file's FILE_SCHEMA.
"""

from typing import Any

import cadquery as cq
import pytest
from OCP.BRepCheck import BRepCheck_Analyzer

from models import PARTS
from shared.features import Kind
from tests.demo.truth import FOLDER, record_of

SCHEMA_WORDS = {
    "AP203": "CONFIG_CONTROL_DESIGN",
    "AP214": "AUTOMOTIVE_DESIGN",
    "AP242": "AP242_MANAGED_MODEL_BASED_3D_ENGINEERING",
}


def shape_of(part: str) -> cq.Shape:
    shape = cq.importers.importStep(str(FOLDER / f"{part}.step")).val()
    assert isinstance(shape, cq.Shape)
    return shape


@pytest.mark.parametrize("part", PARTS)
def test_part_is_one_valid_solid_of_20_to_400_faces(part: str) -> None:
    shape = shape_of(part)
    assert shape.ShapeType() == "Solid"
    assert BRepCheck_Analyzer(shape.wrapped).IsValid()
    assert 20 <= len(shape.Faces()) <= 400
    assert len(shape.Faces()) == record_of(part)["faces"]


@pytest.mark.parametrize("part", [part for part in PARTS if record_of(part)["volume"] is not None])
def test_volume_is_what_arithmetic_on_the_cuts_gives(part: str) -> None:
    """Also shows that no two cuts overlap: their volumes would not add up."""
    assert shape_of(part).Volume() == pytest.approx(record_of(part)["volume"], abs=0.01)


def test_all_parts_but_two_have_an_arithmetic_volume() -> None:
    without = [part for part in PARTS if record_of(part)["volume"] is None]
    assert without == ["focuser_plate", "cable_block"]  # a free-form surface; cuts that overlap on purpose


@pytest.mark.parametrize("part", PARTS)
def test_header_names_the_schema_and_no_place_or_time(part: str) -> None:
    text = (FOLDER / f"{part}.step").read_text(encoding="utf-8")
    head = text[: text.index("ENDSEC")]
    assert SCHEMA_WORDS[record_of(part)["step_schema"]] in head
    assert f"FILE_NAME('{part}','2026-01-01T00:00:00'" in head
    assert ("CONVERSION_BASED_UNIT('INCH'" in text) == (record_of(part)["unit"] == "inch")


def test_together_the_parts_have_every_kind_schema_and_unit() -> None:
    records: list[dict[str, Any]] = [record_of(part) for part in PARTS]
    kinds = {entry["kind"] for record in records for entry in record["features"]}
    assert kinds == set(Kind.__args__)
    assert {record["step_schema"] for record in records} == set(SCHEMA_WORDS)
    assert {record["unit"] for record in records} == {"mm", "inch"}
    assert {p["kind"] for record in records for p in record["patterns"]} == {"circular", "rectangular", "general"}
    assert len(PARTS) >= 12


def test_flagship_has_one_two_and_three_closed_sides_on_the_top_and_both_flanks() -> None:
    entries = record_of("altitude_carrier")["features"]
    for side in ([0, 0, 1], [0, -1, 0], [0, 1, 0]):
        closed = {e["closed_sides"] for e in entries if e["directions"][0] == side and e["open_sides"]}
        assert closed == {1, 2, 3}, side
    assert any(e["kind"] == "closed_pocket" and e["bottom_condition"] == "through" for e in entries)
    faced = {tuple(e["directions"][0]) for e in entries if e["kind"] == "planar_face"}
    assert len(faced) == 6
    assert {10.2, 17.5} <= {e["dimensions"].get("diameter") for e in entries}
    assert not any(e["kind"] in ("chamfer", "edge_round") for e in entries)


def test_one_part_stands_off_the_axes_of_its_file() -> None:
    directions = [d for e in record_of("encoder_cover")["features"] for d in e["directions"]]
    assert directions and all(max(abs(value) for value in d) < 0.999 for d in directions)


# ISO 2306:1972 table 1 tap drills, ISO 273:1979 medium clearance and DIN 974-1 row 1 counterbores (diameter, and depth =
# head height + 0.4 to M6, + 0.6 from M8), DIN 74-F countersinks: as collected in ../shared/checks.md, section 1.
TAP_DRILL = {"M3": 2.5, "M4": 3.3, "M5": 4.2, "M6": 5.0, "M8": 6.8, "M10": 8.5, "M12": 10.2, "M20": 17.5}
CLEARANCE = {"M4": 4.5, "M5": 5.5, "M6": 6.6, "M8": 9.0, "M10": 11.0}
COUNTERBORE = {"M6": (11.0, 6.4), "M8": (15.0, 8.6), "M10": (18.0, 10.6)}
COUNTERSINK = {"M4": 9.18, "M5": 11.47, "M6": 13.71}


def metric_holes(kind: str) -> list[tuple[str, dict[str, float]]]:
    """Thread size and dimensions of all holes of a kind whose name begins with a metric thread."""
    entries = [e for part in PARTS for e in record_of(part)["features"] if e["kind"] == kind]
    return [(e["name"].split()[0], e["dimensions"]) for e in entries if e["name"][0] == "M" and e["name"][1].isdigit()]


def test_screw_holes_have_the_sizes_of_the_standards() -> None:
    plain = metric_holes("round_hole")
    assert {size for size, _ in plain} == set(TAP_DRILL)
    for size, d in plain:
        assert d["diameter"] in (TAP_DRILL[size], CLEARANCE.get(size))
    for size, d in metric_holes("counterbore_hole"):
        assert (d["diameter"], d["counterbore_diameter"], d["counterbore_depth"]) == (
            CLEARANCE[size],
            *COUNTERBORE[size],
        )
    for size, d in metric_holes("countersunk_hole"):
        assert (d["diameter"], d["countersink_diameter"]) == (CLEARANCE[size], COUNTERSINK[size])
