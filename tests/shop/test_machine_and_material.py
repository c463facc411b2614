"""The shop's machine and material files: what they mean, and what is said of wrong ones, with file, line and field."""

from __future__ import annotations

import math

import pytest

from planner import plan
from planner.checker import check
from recognizer import recognize
from shared.cutters import TABLES
from shared.errors import DataFileError, UsageError
from shared.shop.machine import DEFAULT_MACHINE, load_machine
from shared.shop.materials import load_material, material

MILL = """name = "shop mill"
axes = 4
travel = [500, 400, 400]
rapid = 15000
tool_change = 0.2
magazine = 20
[spindle]
max_rpm = 8000
curve = [[1000, 4], [2000, 8], [8000, 8]]
"""


@pytest.fixture
def write(tmp_path):
    def written(text: str, name: str = "shop.toml") -> str:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return str(path)

    return written


def test_a_machine_in_toml_and_the_same_in_csv(write):
    rows = ["name,shop mill", "axes,4", "travel,500; 400; 400", "rapid,15000", "tool_change,0.2", "magazine,20",
            "spindle.max_rpm,8000", "spindle.curve,1000:4; 2000:8; 8000:8"]  # fmt: skip
    machine = load_machine(write(MILL))
    assert machine == load_machine(write("\n".join(["field,value", *rows]), "shop.csv"))
    assert (machine.axes, machine.power, machine.max_rpm, machine.travel) == (4, 8.0, 8000.0, (500.0, 400.0, 400.0))
    assert machine.max_feed == DEFAULT_MACHINE.max_feed  # what the file leaves out is the default


def test_power_and_torque_follow_the_curve(write):
    """P = 2 pi n M: 8 kW at 2000 rev/min are 38.2 Nm, and so are 4 kW at 1000 rev/min. Source: physics."""
    machine = load_machine(write(MILL))
    assert machine.power_at(1000) == 4.0
    assert machine.power_at(1500) == 6.0
    assert machine.power_at(500) == 2.0
    assert machine.power_at(7000) == 8.0
    assert machine.torque_at(2000) == pytest.approx(8000 / (2 * math.pi * 2000 / 60)) == pytest.approx(38.2, abs=0.05)
    assert machine.torque_at(1000) == pytest.approx(machine.torque_at(2000))


@pytest.mark.parametrize(
    ("change", "line", "field", "says"),
    [
        (("rapid", "rapids"), 4, "rapids", "rapid?"),
        (("axes = 4", "axes = 7"), 2, "axes", "from 3 to 5"),
        (("15000", '"fast"'), 4, "rapid", "number"),
        (("[500, 400, 400]", "[500, 400]"), 3, "travel", "3"),
        (("magazine = 20", "magazine = 2.5"), 6, "magazine", "whole"),
        (("[2000, 8]", "[500, 8]"), 9, "curve", "rise"),
        (("[spindle]", "[spindel]"), 7, "", "[spindle]"),
        (("tool_change = 0.2", "tool_change = -1"), 5, "tool_change", "from 0 to 60"),
        (('"shop mill"', '"shop mill'), 1, "", "TOML"),
    ],
)
def test_a_wrong_machine_file_is_told_with_line_and_field(write, change, line, field, says):
    with pytest.raises(DataFileError) as caught:
        load_machine(write(MILL.replace(*change)))
    error = caught.value
    assert error.where == f"shop.toml, line {line}" + (f", field {field}" if field else "")
    assert says in error.message + error.hint


def test_a_file_that_is_not_there_or_of_another_kind(write, tmp_path):
    with pytest.raises(DataFileError, match="cannot read"):
        load_machine(str(tmp_path / "none.toml"))
    with pytest.raises(DataFileError, match="TOML or CSV"):
        load_machine(write("", "shop.xlsx"))
    with pytest.raises(DataFileError, match="UTF-8"):
        (tmp_path / "latin.toml").write_bytes(b'name = "Fr\xe4se"')
        load_machine(str(tmp_path / "latin.toml"))


def test_a_material_starts_from_a_default_one(write):
    text = 'name = "S355"\nlike = "steel"\nkc1 = 1990\n[[data]]\nkind = "endmill"\nvc = 150\nfeed_per_diameter = 0.006\nfeed_max = 0.1\n'
    own, steel = load_material(write(text)), material("steel")
    assert (own.name, own.kc1, own.mc, own.density) == ("S355", 1990.0, steel.mc, steel.density)
    assert own.cutting_data("endmill", "carbide").vc == 150.0
    assert own.cutting_data("twist_drill", "HSS") == steel.cutting_data("twist_drill", "HSS")


@pytest.mark.parametrize(
    ("text", "where", "says"),
    [
        ('like = "unobtainium"', "shop.toml, line 1, field like", "known materials"),
        ('name = "x"', "shop.toml, line 1", "no cutting data"),
        ('like = "steel"\ndensity = 78.5', "shop.toml, line 2, field density", "from 0 to 25"),
        ('like = "steel"\n[[data]]\nkind = "rotary_file"\nvc = 3', "shop.toml, line 3, field kind", "known kinds"),
        ('like = "steel"\n[[data]]\nkind = "endmill"\nvc = 0\nfeed_max = 1\nfeed_per_diameter = 1', "shop.toml, line 4, field vc", "0.1"),
        ('like = "steel"\n[[data]]\nkind = "endmill"\nvc = 90', "shop.toml, line 2", "feed_per_diameter is missing"),
    ],
)  # fmt: skip
def test_a_wrong_material_file_is_told_with_line_and_field(write, text, where, says):
    with pytest.raises(DataFileError) as caught:
        load_material(write(text))
    assert caught.value.where == where
    assert says in caught.value.message + caught.value.hint


class TestPlan:
    @pytest.fixture(scope="class")
    def features(self):
        return recognize("models/balance_weight.step")

    def test_the_machine_decides_rapids_changes_and_speeds(self, features, write):
        assumed = plan(features)
        result = plan(features, {"machine": write(MILL)})
        assert result.job.machine["name"] == "shop mill"
        assert max(op.speed for s in result.setups for op in s.operations) == 8000.0
        assert result.totals.minutes > assumed.totals.minutes
        assert not result.proof.checker

    def test_operations_stay_below_the_spindle_curve(self, features, write):
        weak = MILL.replace("[[1000, 4], [2000, 8], [8000, 8]]", "[[500, 0.5], [4000, 0.8], [8000, 0.6]]")
        machine = load_machine(write(weak))
        operations = [op for s in plan(features, {"machine": write(weak)}).setups for op in s.operations]
        assert all(op.power <= machine.power_at(op.speed) * 1.0001 for op in operations)
        lowered = [op for op in operations if any("lowered" in b for b in op.because)]
        assert lowered and all(f"{machine.power_at(op.speed):.3g} kW" in " ".join(op.because) for op in lowered)

    def test_the_checker_knows_the_spindle_curve(self, features, write):
        result = plan(features, {"machine": write(MILL)})
        op = result.setups[0].operations[1]
        op.power = 1.1 * load_machine(write(MILL)).power_at(op.speed)
        assert any(f.code == "above_machine" and op.id in f.message for f in check(result, features))

    def test_a_cutters_own_largest_speed_is_kept(self, features, tmp_path):
        rows = (TABLES / "cutters.csv").read_text(encoding="utf-8").splitlines()
        header = rows[0] + ",RPMX"
        limited = [f"{row},{4000 if ',endmill,' in row else ''}" for row in rows[1:]]
        path = tmp_path / "cutters.csv"
        path.write_text("\n".join([header, *limited]), encoding="utf-8")
        operations = [op for s in plan(features, {"tools": str(path)}).setups for op in s.operations]
        milled = [op for op in operations if op.tool.kind == "endmill"]
        assert milled and all(op.speed == 4000.0 for op in milled)
        assert all("the cutter's 4000 rev/min" in " ".join(op.because) for op in milled)

    def test_a_block_too_long_for_the_table_is_an_error_with_figures(self, features, write):
        """64 x 44 mm with the rim, and the 50 mm face mill a radius beyond either end: 114 x 94 mm of travel."""
        small = MILL.replace("[500, 400, 400]", "[100, 400, 400]")
        said = [f for f in plan(features, {"machine": write(small)}).findings if f.code == "travel_exceeded"]
        assert said and said[0].severity == "error"
        assert "114 mm of travel in X" in said[0].message and "100 mm" in said[0].message

    def test_a_large_block_on_a_machine_whose_travels_are_not_known_is_said(self, features):
        """A part of 60 x 40 mm with 500 mm of stock a side is 1060 mm long."""
        small, large = (plan(features, {"stock": s, "simulate": False}).findings for s in (2.0, 500.0))
        assert not any(f.code == "travel_unknown" for f in small)
        assert any(f.code == "travel_unknown" and "1060 mm" in f.message for f in large)

    def test_more_cutters_than_places(self, features, write):
        said = [f for f in plan(features, {"machine": write(MILL.replace("= 20", "= 3"))}).findings]
        assert "magazine_full" in {f.code for f in said}

    def test_more_axes_than_the_machine_has(self, features, write):
        with pytest.raises(UsageError, match="4 axes"):
            plan(features, {"machine": write(MILL), "axes": 5})


def test_the_command_takes_the_machines_axes_and_names_the_field(sidewise, write):
    said = sidewise("plan", "models/balance_weight.step", "--machine", write(MILL))
    assert said.exit_code == 0 and "4-axis" in said.stdout and "shop mill" in said.stdout
    wrong = sidewise("plan", "models/balance_weight.step", "--machine", write(MILL.replace("rapid", "rapids")))
    assert wrong.exit_code == 2 and "line 4, field rapids" in wrong.stderr
    own = write('name = "S355"\nlike = "steel"\n', "s355.toml")
    said = sidewise("plan", "models/balance_weight.step", "--material", own)
    assert said.exit_code == 0 and "S355, 3-axis" in said.stdout
