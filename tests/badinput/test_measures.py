"""Units, placements and record numbers that the kernel would take wrongly without a word.

Truth by construction: one part written in several units. Sizes of units: the inch is 25.4 mm by the agreement of 1959,
ISO 80000-3; a degree pi/180.
"""

from __future__ import annotations

import re
from math import degrees
from pathlib import Path

import cadquery as cq
import pytest

from recognizer import recognize
from shared.errors import NoSolid, NotStep
from tests.badinput import parts

MM = "SI_UNIT(.MILLI.,.METRE.)"
LENGTH = re.compile(r"#(\d+) = \( ?LENGTH_UNIT\(\) NAMED_UNIT\(\*\) SI_UNIT\(\.MILLI\.,\.METRE\.\) ?\);")
ANGLE = re.compile(r"#(\d+) = \( ?NAMED_UNIT\(\*\) PLANE_ANGLE_UNIT\(\) SI_UNIT\(\$,\.RADIAN\.\) ?\);")
CONE = re.compile(r"(CONICAL_SURFACE\('',#\d+,[-0-9.E+]+,)([-0-9.E+]+)")
OPERATOR = "#600003 = CARTESIAN_TRANSFORMATION_OPERATOR_3D('',$,#600004,#600005,#600008,%s,%s);"


@pytest.fixture(scope="module")
def text(tmp_path_factory: pytest.TempPathFactory) -> str:
    part = cq.Workplane().box(60, 40, 20).faces(">Z").workplane().center(5, 3).cskHole(5, 11, 90)
    return parts.write(part, tmp_path_factory.mktemp("measures") / "part.step").read_text()


def measured(folder: Path, text: str) -> dict[str, float]:
    path = folder / "part.step"
    path.write_text(text)
    document = recognize(path)
    (hole,) = [f for f in document.features if f.kind == "countersunk_hole"]
    box = document.part.bounding_box
    return {"length": box.max[0] - box.min[0], "volume": document.part.volume} | hole.dimensions


def scaled(text: str, factor: float) -> str:
    radius = re.compile(r"((?:CIRCLE|CYLINDRICAL_SURFACE|CONICAL_SURFACE)\('',#\d+,)([-0-9.E+]+)")
    return radius.sub(lambda m: m.group(1) + repr(float(m.group(2)) * factor).upper(), parts.scaled(text, factor))


def converted(text: str, unit: re.Pattern[str], name: str, kind: str, size: float) -> str:
    """The text with a unit of its own in place of mm or radians."""
    match = unit.search(text)
    assert match
    basic = match.group(0).partition("=")[2]
    other = f"{kind}_UNIT() NAMED_UNIT(#900003)"
    return text.replace(
        match.group(0),
        f"#{match.group(1)} = ( CONVERSION_BASED_UNIT('{name}',#900001) {other} );\n"
        f"#900001 = {kind}_MEASURE_WITH_UNIT({kind}_MEASURE({size!r}),#900002);\n#900002 ={basic}\n"
        "#900003 = DIMENSIONAL_EXPONENTS(0.,0.,0.,0.,0.,0.,0.);",
    )


@pytest.mark.parametrize(("name", "size"), [("INCH", 25.4), ("inch", 25.4), ("FOOT", 304.8), ("CUBIT", 457.2)], ids=str)
def test_a_part_in_another_unit_has_its_size(tmp_path: Path, text: str, name: str, size: float) -> None:
    other = converted(scaled(text, 1 / size), LENGTH, name, "LENGTH", size)
    assert measured(tmp_path, other) == pytest.approx(measured(tmp_path, text), rel=1e-6)


@pytest.mark.parametrize(("prefix", "factor"), [("$", 1e-3), (".CENTI.", 0.1), (".MICRO.", 1e3)], ids=["m", "cm", "um"])
def test_a_part_in_metres_and_their_parts_has_its_size(tmp_path: Path, text: str, prefix: str, factor: float) -> None:
    other = scaled(text, factor).replace(MM, f"SI_UNIT({prefix},.METRE.)")
    assert measured(tmp_path, other) == pytest.approx(measured(tmp_path, text), rel=1e-6)


def test_a_cone_in_degrees_has_its_angle(tmp_path: Path, text: str) -> None:
    other = CONE.sub(lambda m: m.group(1) + repr(degrees(float(m.group(2)))), text)
    other = converted(other, ANGLE, "DEGREE", "PLANE_ANGLE", 0.0174532925199433)
    assert measured(tmp_path, other) == pytest.approx(measured(tmp_path, text), rel=1e-6)


@pytest.mark.parametrize("size", [2.54, 1.0, 0.0, -25.4, 1e300])
def test_a_unit_whose_name_and_size_disagree_is_refused(tmp_path: Path, text: str, size: float) -> None:
    with pytest.raises(NotStep, match="calls its unit INCH") as caught:
        measured(tmp_path, converted(text, LENGTH, "INCH", "LENGTH", size))
    assert "units" in caught.value.hint and caught.value.where == "#900001"


def mapped(text: str, operator: str) -> str:
    """The text with its solid placed by a transformation."""
    whole = re.search(r"#(\d+) = ADVANCED_BREP_SHAPE_REPRESENTATION\('',\((#\d+),([^)]*)\),(#\d+)\);", text)
    assert whole
    number, axis, solid, context = whole.groups()
    return text.replace(
        whole.group(0),
        f"""#{number} = ADVANCED_BREP_SHAPE_REPRESENTATION('',(#600000),{context});
#600000 = MAPPED_ITEM('',#600001,#600003);
#600001 = REPRESENTATION_MAP({axis},#600002);
#600002 = ADVANCED_BREP_SHAPE_REPRESENTATION('',({axis},{solid}),{context});
{operator}
#600004 = DIRECTION('',(1.,0.,0.));
#600005 = DIRECTION('',(0.,1.,0.));
#600006 = DIRECTION('',(0.,0.,1.));
#600007 = DIRECTION('',(0.,0.,-1.));
#600008 = CARTESIAN_POINT('',(1.,2.,3.));""",
    )


@pytest.mark.parametrize(
    ("scale", "third", "words"),
    [
        ("2.", "#600006", "2 times"),
        ("-1.", "#600006", "-1 times"),
        ("0.", "$", "0 times"),
        ("1.", "#600007", "mirrored"),
    ],
)
def test_a_placement_that_scales_or_mirrors_is_refused(
    tmp_path: Path, text: str, scale: str, third: str, words: str
) -> None:
    """The kernel leaves such a placement out, and would give the part at its own size."""
    with pytest.raises(NotStep, match=words):
        measured(tmp_path, mapped(text, OPERATOR % (scale, third)))


def test_a_placement_that_only_moves_is_followed_or_left_out(tmp_path: Path, text: str) -> None:
    moved = measured(tmp_path, mapped(text, OPERATOR % ("1.", "#600006")))
    assert moved == pytest.approx(measured(tmp_path, text), rel=1e-6)


@pytest.mark.parametrize("more", [3 * 10**9, 10**17, 10**19])
def test_record_numbers_that_the_kernel_cannot_hold_are_refused(tmp_path: Path, text: str, more: int) -> None:
    with pytest.raises(NotStep, match="numbers its records"):
        measured(tmp_path, re.sub(r"#(\d+)", lambda m: f"#{int(m.group(1)) + more}", text))


def test_triangles_alone_are_no_solid(tmp_path: Path) -> None:
    """What remains of a tessellated model, on which the kernel crashes."""
    records = """#1 = TESSELLATED_SHAPE_REPRESENTATION('',(#2),#5);
#2 = TESSELLATED_SOLID('',(#4),$);
#3 = COORDINATES_LIST('',4,((0.,0.,0.),(10.,0.,0.),(0.,10.,0.),(0.,0.,10.)));
#4 = TRIANGULATED_FACE('',#3,4,((0.,0.,1.)),$,(1,2,3,4),((1,3,2),(1,2,4),(2,3,4),(3,1,4)));
#5 = REPRESENTATION_CONTEXT('','');"""
    path = tmp_path / "triangles.step"
    path.write_text(f"ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\n{records}\nENDSEC;\nEND-ISO-10303-21;\n")
    with pytest.raises(NoSolid, match="triangles") as caught:
        recognize(path)
    assert "B-rep" in caught.value.hint
