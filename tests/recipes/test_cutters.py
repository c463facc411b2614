"""Users' cutter files: what is read, and what is refused with file, line and field."""

from __future__ import annotations

from pathlib import Path

import pytest
from pydantic import ValidationError

from planner.cutting import material, materials
from shared.cutters import KINDS, default_cutters, load_cutters
from shared.errors import DataFileError, UsageError

HEADER = "id,kind,DC,RE,APMX,LU,NOF,SIG,TDZ,TP,DCX,DN,unit\n"


def load(tmp_path: Path, text: str, name: str = "mine.csv"):
    (tmp_path / name).write_text(text, encoding="utf-8")
    return load_cutters(str(tmp_path / name))


def test_csv_is_read(tmp_path: Path) -> None:
    table = load(
        tmp_path, "# my shop\n" + HEADER + "E1,endmill,12,,26,40,4,,,,,,\nD1,twist_drill,10.2,,,87,2,,,,,,mm\n"
    )
    assert table.name == "mine.csv"
    assert [(t.id, t.DC) for t in table.tools] == [("E1", 12.0), ("D1", 10.2)]
    assert table.tools[1].SIG == 118.0


def test_inches_are_converted(tmp_path: Path) -> None:
    tool = load(tmp_path, HEADER + "E1,endmill,0.5,,1.0,1.5,4,,,,,,inch\n").tools[0]
    assert (tool.DC, tool.APMX, tool.NOF) == (12.7, 25.4, 4)


def test_toml_is_read(tmp_path: Path) -> None:
    table = load(tmp_path, '[[tool]]\nkind = "endmill"\nDC = 8\nAPMX = 19\nNOF = 4\n', "mine.toml")
    assert table.tools[0].DC == 8.0 and table.tools[0].id == "endmill-8"


@pytest.mark.parametrize(
    ("row", "line", "field", "words"),
    [
        ("E1,endmill,-12,,,,,,,,,,", 2, "DC", "negative"),
        ("E1,endmill,zwölf,,,,,,,,,,", 2, "DC", "not a number"),
        ("E1,endmill,nan,,,,,,,,,,", 2, "DC", "not finite"),
        ("E1,endmill,0,,,,,,,,,,", 2, "DC", "zero"),
        ("E1,endmill,12,,,,,,,,,,cm", 2, "unit", "unknown unit"),
        ("E1,hammer,12,,,,,,,,,,", 2, "kind", "unknown kind"),
        ("E1,endmill,12,7,,,,,,,,,", 2, "RE", "larger than half"),
        ("E1,endmill,12,,,,2.5,,,,,,", 2, "NOF", "flutes"),
        ("E1,twist_drill,12,,,,2,200,,,,,", 2, "SIG", "point angle"),
        ("T1,tap,12,,,,3,,,,,,", 2, "TDZ", "TDZ and TP"),
        ("E1,endmill,12,,,,,,,,,,\nE1,endmill,10,,,,,,,,,,", 3, "id", "already"),
        ("E1,endmill,12000,,,,,,,,,,", 2, "DC", "12000"),
    ],
)
def test_bad_rows_are_refused_with_file_line_and_field(
    tmp_path: Path, row: str, line: int, field: str, words: str
) -> None:
    with pytest.raises(DataFileError) as caught:
        load(tmp_path, HEADER + row + "\n")
    assert caught.value.where == f"mine.csv, line {line}, field {field}"
    assert words in caught.value.message
    assert caught.value.hint and caught.value.exit_code == 2


def test_unknown_column_is_refused_with_the_likely_one(tmp_path: Path) -> None:
    with pytest.raises(DataFileError) as caught:
        load(tmp_path, "id,kind,dc\nE1,endmill,12\n")
    assert "did you mean DC" in caught.value.hint and "line 1" in caught.value.where


def test_toml_errors_name_the_tools_line(tmp_path: Path) -> None:
    text = '[[tool]]\nkind = "endmill"\nDC = 8\n\n[[tool]]\nkind = "endmill"\nDC = -3\n'
    with pytest.raises(DataFileError) as caught:
        load(tmp_path, text, "mine.toml")
    assert caught.value.where == "mine.toml, line 5, field DC"


@pytest.mark.parametrize(
    ("name", "text"), [("a.csv", ""), ("a.csv", HEADER), ("a.toml", "x = ["), ("a.toml", "x = 1"), ("a.txt", "")]
)
def test_unusable_files_are_refused(tmp_path: Path, name: str, text: str) -> None:
    with pytest.raises(DataFileError):
        load(tmp_path, text, name)


def test_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(DataFileError):
        load_cutters(str(tmp_path / "none.csv"))


def test_binary_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_bytes(b"\xff\xfe\x00kind")
    with pytest.raises(DataFileError):
        load_cutters(str(tmp_path / "a.csv"))


def test_default_table_has_every_kind_and_sound_figures() -> None:
    table = default_cutters()
    special = {"backside_counterbore", "lollipop_mill"}  # no standard sizes: each is bought for its hole or groove
    assert {t.kind for t in table.tools} == set(KINDS) - special
    assert len({t.id for t in table.tools}) == len(table.tools)
    for tool in table.tools:
        assert tool.DC > 0 and (tool.DN is None or tool.DN <= tool.DC)
        assert tool.LU is not None and (tool.APMX is None or tool.APMX <= tool.LU + 1e-9), tool.id


def test_unknown_material_lists_the_known_ones() -> None:
    with pytest.raises(UsageError) as caught:
        material("unobtainium")
    assert all(name in caught.value.hint for name in materials())


def test_every_material_has_data_for_every_kind() -> None:
    for row in materials().values():
        for tool in default_cutters().tools:
            assert row.cutting_data(tool.kind, tool.substrate).vc > 0


def test_no_plan_can_change_a_cutter_of_the_table():
    # Plans of one process share the default table's cutters: one changed in place would change the plans after it.
    tool = default_cutters().tools[0]
    with pytest.raises(ValidationError):
        tool.DC = 1.0
    assert isinstance(tool.holder, tuple)
