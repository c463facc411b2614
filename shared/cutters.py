"""The cutter table: the default one, users' own as CSV or TOML, and the questions that recipes ask it.

Columns and keys are ISO 13399 symbols (see shared.plan.Tool). Kinds are ISO 14649-11 tool entities, plus
`corner_rounding_mill`, which that standard does not name. A 90 degree spot drill is a `center_drill` with SIG 90 and
a chamfer cutter a `countersink`, DC its diameter at the tip and DCX the largest. DN is a `counterbore`'s pilot, and the
neck that a `backside_counterbore` goes through the hole with. `holder` is what stands behind the usable length:
cylinders of diameter x length from the cutter upwards, "28x40; 50x60".
"""

from __future__ import annotations

import csv
import re
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from shared.errors import DataFileError
from shared.plan import Tool
from shared.units import from_inches

TABLES = Path(__file__).parent / "tables"

KINDS = (
    "facemill",
    "endmill",
    "bullnose_endmill",
    "ball_endmill",
    "twist_drill",
    "center_drill",
    "countersink",
    "tap",
    "reamer",
    "boring_tool",
    "counterbore",
    "backside_counterbore",
    "t_slot_mill",
    "dovetail_mill",
    "corner_rounding_mill",
    "lollipop_mill",
)
LENGTHS = ("DC", "RE", "APMX", "LU", "DCX", "DN", "TP")
NUMBERS = (*LENGTHS, "NOF", "SIG", "RPMX")
FIELDS = ("id", "kind", *NUMBERS, "TDZ", "substrate", "holder")
HOLDER_HINT = "diameter x length of each cylinder from the cutter upwards, in mm: 28x40; 50x60"
IGNORED = ("source", "note", "name", "unit")
LENGTH_DIAMETER_STIFF = 3.0
"""Reach over diameter up to which a milling cutter is stiff; common practice, no source."""
LENGTH_DIAMETER_WARN = 5.0
"""Reach over diameter from which a milling cutter bends: common practice, no source."""
LENGTH_DIAMETER_LIMIT = 10.0
"""Reach over diameter beyond which no milling cutter is planned: common practice, no source."""


@dataclass(frozen=True)
class CutterTable:
    """Cutters in a fixed order (kind, diameter, reach, id), and the table's name as the plan cites it."""

    name: str
    tools: tuple[Tool, ...]
    _of_kinds: dict[tuple[str, ...], list[Tool]] = field(default_factory=dict, init=False, repr=False, compare=False)
    _by_size: dict[tuple[str, ...], list[Tool]] = field(default_factory=dict, init=False, repr=False, compare=False)
    """Answers of of() and mills() by kinds, kept since every recipe asks again."""

    def of(self, *kinds: str) -> list[Tool]:
        """Cutters of these kinds, smallest first, the shortest first among equal diameters."""
        if kinds not in self._of_kinds:
            self._of_kinds[kinds] = [tool for tool in self.tools if tool.kind in kinds]
        return list(self._of_kinds[kinds])

    def mills(
        self, largest: float, reach: float, kinds: Sequence[str] = ("endmill",), radius: float = 0.0
    ) -> list[Tool]:
        """Milling cutters up to `largest` mm that reach `reach` mm deep with RE <= `radius`; largest first.

        Among equal diameters the stiffest comes first: the largest RE allowed, then the shortest reach.
        """
        key = tuple(kinds)
        if key not in self._by_size:
            self._by_size[key] = sorted(self.of(*key), key=lambda t: (-t.DC, -t.RE, t.LU or 0.0, t.id))
        most, round_ = largest + 1e-6, radius + 1e-6
        return [t for t in self._by_size[key] if most >= t.DC and round_ >= t.RE and reaches(t, reach)]

    def exact(self, kind: str, diameter: float, tolerance: float = 0.011) -> list[Tool]:
        """Cutters of a kind with this cutting diameter, nearest first, then shortest."""
        fit = [t for t in self.of(kind) if abs(t.DC - diameter) <= tolerance]
        return sorted(fit, key=lambda t: (round(abs(t.DC - diameter), 4), t.LU or 0.0, t.id))

    def tap(self, size: str) -> Tool | None:
        """The tap of a thread size."""
        return next((t for t in self.of("tap") if size == t.TDZ), None)


def reaches(tool: Tool, depth: float) -> bool:
    """Whether the cutter's usable length covers `depth` mm and its length/diameter stays within the limit."""
    long_enough = tool.LU is None or depth <= tool.LU + 1e-6
    stiff = tool.kind not in MILLS or depth <= LENGTH_DIAMETER_LIMIT * tool.DC + 1e-6
    return long_enough and stiff


MILLS = ("endmill", "bullnose_endmill", "ball_endmill")


@lru_cache(maxsize=1)
def default_cutters() -> CutterTable:
    """The default table of standard sizes, shared/tables/cutters.csv."""
    return _table("default cutter table", read_csv(TABLES / "cutters.csv"))


def load_cutters(path: str | None) -> CutterTable:
    """The cutters of a user's CSV or TOML file, or the default table for None.

    Raises DataFileError naming file, line and field, with a hint.
    """
    if path is None:
        return default_cutters()
    file = Path(path)
    if file.suffix.lower() not in (".csv", ".toml"):
        raise DataFileError("cutter files are CSV or TOML", "name it .csv or .toml", file.name)
    try:
        tools = read_toml(file) if file.suffix.lower() == ".toml" else read_csv(file)
    except OSError as error:
        raise DataFileError(f"cannot read the cutter file: {error.strerror}", "check the path", file.name) from error
    except UnicodeDecodeError as error:
        raise DataFileError("the cutter file is not UTF-8 text", "save it as UTF-8", file.name) from error
    if not tools:
        raise DataFileError("the cutter file holds no cutter", "add one row (CSV) or [[tool]] (TOML)", file.name)
    return _table(file.name, tools)


def read_csv(file: Path) -> list[Tool]:
    """Cutters of a CSV file with a header of ISO 13399 symbols; lines starting with # are skipped."""
    with file.open(newline="", encoding="utf-8-sig") as stream:
        lines = [(number, line) for number, line in enumerate(stream, 1) if line.strip() and not line.startswith("#")]
    if not lines:
        return []
    header = [name.strip() for name in next(csv.reader([lines[0][1]]))]
    _check_names(header, f"{file.name}, line {lines[0][0]}")
    if "kind" not in header or "DC" not in header:
        where = f"{file.name}, line {lines[0][0]}"
        raise DataFileError("the header needs the columns kind and DC", f"columns: {', '.join(FIELDS)}", where)
    return _tools((number, _csv_row(header, line, f"{file.name}, line {number}")) for number, line in lines[1:])(
        file.name
    )


def _csv_row(header: list[str], line: str, where: str) -> dict[str, Any]:
    values = next(csv.reader([line]))
    if len(values) > len(header):
        raise DataFileError(f"{len(values)} values under {len(header)} columns", "count the commas", where)
    return dict(zip(header, values, strict=False))


def read_toml(file: Path) -> list[Tool]:
    """Cutters of a TOML file: one [[tool]] table each, keys are ISO 13399 symbols."""
    text = file.read_text(encoding="utf-8")
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise DataFileError(f"not TOML: {error}", "one [[tool]] table for each cutter", file.name) from error
    rows = content.get("tool", [])
    if set(content) - {"tool"} or not isinstance(rows, list):
        names = ", ".join(sorted(set(content) - {"tool"})) or "tool"
        raise DataFileError(f"unexpected entry {names}", "the file holds [[tool]] tables only", file.name)
    starts = [n for n, line in enumerate(text.splitlines(), 1) if re.match(r"\s*\[\[\s*tool\s*\]\]", line)]
    starts += [1] * (len(rows) - len(starts))
    for number, row in zip(starts, rows, strict=False):
        if not isinstance(row, dict):
            raise DataFileError(
                "a tool is not a table", "write [[tool]] before its keys", f"{file.name}, line {number}"
            )
        _check_names(row, f"{file.name}, line {number}")
    return _tools(zip(starts, rows, strict=False))(file.name)


def _check_names(names: Iterable[str], where: str) -> None:
    for name in names:
        if name not in FIELDS and name not in IGNORED:
            close = next((f for f in FIELDS if f.lower() == name.lower()), None)
            hint = f"did you mean {close}?" if close else f"known fields: {', '.join((*FIELDS, *IGNORED))}"
            raise DataFileError(f"unknown field {name!r}", hint, f"{where}, field {name}")


def _tools(rows: Iterable[tuple[int, dict[str, Any]]]):  # type: ignore[no-untyped-def]
    """A reader of rows that knows the file's name only when it is called: used by both formats."""

    def read(file_name: str) -> list[Tool]:
        found: list[Tool] = []
        seen: dict[str, int] = {}
        for number, row in rows:
            tool = _tool(row, f"{file_name}, line {number}")
            if tool.id in seen:
                where = f"{file_name}, line {number}, field id"
                raise DataFileError(f"cutter {tool.id!r} is already on line {seen[tool.id]}", "ids must differ", where)
            seen[tool.id] = number
            found.append(tool)
        return found

    return read


def _tool(row: dict[str, Any], where: str) -> Tool:
    kind = str(row.get("kind") or "").strip()
    if kind not in KINDS:
        raise DataFileError(f"unknown kind {kind!r}", f"known kinds: {', '.join(KINDS)}", f"{where}, field kind")
    values = {name: _number(row.get(name), f"{where}, field {name}", name) for name in NUMBERS}
    scale = _scale(row.get("unit"), f"{where}, field unit")
    for name in LENGTHS:
        value = values[name]
        values[name] = None if value is None else scale * value
    _check_values(kind, values, row, where)
    kwargs = {name: value for name, value in values.items() if value is not None}
    if "NOF" in kwargs:
        kwargs["NOF"] = int(kwargs["NOF"])
    identity = str(row.get("id") or "").strip() or _identity(kind, values)
    substrate = str(row.get("substrate") or "").strip() or ("carbide" if kind in _CARBIDE else "HSS")
    size = str(row.get("TDZ") or "").strip() or None
    holder = _holder(row.get("holder"), scale, f"{where}, field holder")
    return Tool(id=identity, kind=kind, TDZ=size, substrate=substrate, holder=holder, **kwargs)


def _holder(value: Any, scale: float, where: str) -> tuple[tuple[float, float], ...]:
    """Stacked cylinders (diameter, length) in mm of "28x40; 50x60" or of [[28, 40], [50, 60]]."""
    if value is None or (isinstance(value, str) and not value.strip()):
        return ()
    pieces = re.split(r"\s*;\s*", value.strip(" ;")) if isinstance(value, str) else value
    try:
        pairs = [re.split(r"\s*x\s*", p.strip()) if isinstance(p, str) else p for p in pieces]
        steps = tuple((scale * float(diameter), scale * float(size)) for diameter, size in pairs)
    except (TypeError, ValueError):
        raise DataFileError(f"holder is not a stack of cylinders: {value!r}", HOLDER_HINT, where) from None
    if not all(0 < d < 1000 and 0 < size < 1000 for d, size in steps):
        raise DataFileError(
            f"a holder's diameter or length is not between 0 and 1000 mm: {value!r}", HOLDER_HINT, where
        )
    return steps


_CARBIDE = ("facemill", "endmill", "bullnose_endmill", "ball_endmill", "boring_tool", "corner_rounding_mill")
_DEFAULT_SIG = {"twist_drill": 118.0, "center_drill": 90.0, "countersink": 90.0}


def _identity(kind: str, values: dict[str, float | None]) -> str:
    radius = f"-R{values['RE']:g}" if values["RE"] else ""
    return f"{kind}-{values['DC']:g}{radius}"


def _number(value: Any, where: str, name: str) -> float | None:
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    if isinstance(value, bool):
        raise DataFileError(f"{name} is not a number: {value}", "write a plain number", where)
    try:
        number = float(value)
    except (TypeError, ValueError):
        hint = "write a plain number in mm with a decimal point, and inches by unit = inch"
        raise DataFileError(f"{name} is not a number: {value!r}", hint, where) from None
    if number != number or number in (float("inf"), float("-inf")):
        raise DataFileError(f"{name} is not finite", "write a plain number", where)
    if number < 0:
        raise DataFileError(f"{name} is negative: {number:g}", "lengths, counts and angles are positive", where)
    return number


def _scale(unit: Any, where: str) -> float:
    text = str(unit or "mm").strip().lower()
    if text in ("mm", "millimetre", "millimeter"):
        return 1.0
    if text in ("inch", "in"):
        return from_inches(1.0)
    raise DataFileError(f"unknown unit {unit!r}", "write mm or inch", where)


def _check_values(kind: str, values: dict[str, float | None], row: dict[str, Any], where: str) -> None:
    """Cross-checks within one cutter, and defaults that its kind implies."""
    diameter = values["DC"]
    if not diameter:
        raise DataFileError("DC, the cutting diameter, is missing or zero", "give DC in mm", f"{where}, field DC")
    if diameter > 1000:
        raise DataFileError(
            f"DC is {diameter:g} mm", "diameters are mm; use unit = inch for inches", f"{where}, field DC"
        )
    if kind == "ball_endmill" and values["RE"] is None:
        values["RE"] = diameter / 2.0
    if values["RE"] is not None and kind in (*MILLS, "facemill") and values["RE"] > diameter / 2.0 + 1e-6:
        raise DataFileError("RE is larger than half of DC", "check both values", f"{where}, field RE")
    if values["NOF"] is not None and (values["NOF"] < 1 or values["NOF"] != int(values["NOF"])):
        raise DataFileError("NOF is not a count of flutes", "write 1, 2, 3, ...", f"{where}, field NOF")
    if values["SIG"] is not None and not 0 < values["SIG"] <= 180:
        raise DataFileError("SIG is not a point angle", "between 0 and 180 degrees", f"{where}, field SIG")
    if values["SIG"] is None and kind in _DEFAULT_SIG:
        values["SIG"] = _DEFAULT_SIG[kind]
    if kind == "tap" and (not values["TP"] or not str(row.get("TDZ") or "").strip()):
        raise DataFileError("a tap needs TDZ and TP", "for example TDZ = M12, TP = 1.75", f"{where}, field TDZ")
    if values["DCX"] is not None and values["DCX"] < diameter - 1e-6:
        raise DataFileError("DCX is smaller than DC", "DC is the smaller diameter", f"{where}, field DCX")


def _table(name: str, tools: list[Tool]) -> CutterTable:
    order = sorted(tools, key=lambda t: (KINDS.index(t.kind), t.DC, t.RE, t.LU or 0.0, t.id))
    return CutterTable(name, tuple(order))
