"""TOML and CSV files of the shop: sections with named fields, and messages that name file, line and field.

In TOML a section is a table: `[spindle]`, or several `[[data]]`; fields above the first table belong to the section
"". The same file as CSV has the columns `field,value`, with `spindle.power` for a field of a section. A CSV file with
any other header is a list: each line is one section, named by the reader.
"""

from __future__ import annotations

import csv
import difflib
import math
import re
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from shared.errors import DataFileError

_HEAD = re.compile(r"\s*\[{1,2}\s*([^\]\s]+)\s*\]{1,2}")
_KEY = re.compile(r"\s*\"?([\w.\-]+)\"?\s*=")


@dataclass
class Section:
    """Fields of one table of a file, and the lines they stand on."""

    file: str
    name: str
    line: int
    values: dict[str, Any] = field(default_factory=dict)
    lines: dict[str, int] = field(default_factory=dict)

    def where(self, name: str = "") -> str:
        """'mill.toml, line 7, field power'."""
        line = self.lines.get(name, self.line)
        return f"{self.file}, line {line}" + (f", field {name}" if name else "")

    def check_names(self, known: tuple[str, ...]) -> None:
        """Raises DataFileError for a field that nobody reads: a slip of the keyboard would go unnoticed."""
        for name in self.values:
            if name not in known:
                close = difflib.get_close_matches(name, known, 1)
                hint = f"did you mean {close[0]}?" if close else f"known fields: {', '.join(known)}"
                raise DataFileError(f"unknown field {name!r}", hint, self.where(name))

    def has(self, name: str) -> bool:
        """Whether the field is given and not blank."""
        value = self.values.get(name)
        return value is not None and not (isinstance(value, str) and not value.strip())

    def number(self, name: str, default: float | None = None, *, low: float = 0.0, high: float = math.inf) -> float:
        """A number from `low` to `high`. Raises DataFileError where it is none, or missing without a default."""
        if not self.has(name):
            if default is None:
                raise DataFileError(f"{name} is missing", "give a number", self.where())
            return default
        value = self.values[name]
        try:
            if isinstance(value, bool):
                raise ValueError
            number = float(value)
        except (TypeError, ValueError):
            hint = "write a plain number with a decimal point, no unit"
            raise DataFileError(f"{name} is not a number: {value!r}", hint, self.where(name)) from None
        if not low <= number <= high or not math.isfinite(number):
            limits = f"at least {low:g}" if high == math.inf else f"from {low:g} to {high:g}"
            raise DataFileError(f"{name} is {number:g}", f"it must be {limits}", self.where(name))
        return number

    def whole(self, name: str, default: int | None = None, *, low: int = 0, high: float = math.inf) -> int:
        """A whole number."""
        number = self.number(name, None if default is None else float(default), low=low, high=high)
        if number != int(number):
            raise DataFileError(f"{name} is {number:g}", "it must be a whole number", self.where(name))
        return int(number)

    def text(self, name: str, default: str | None = None) -> str:
        """A text. Raises DataFileError where it is missing without a default."""
        if not self.has(name):
            if default is None:
                raise DataFileError(f"{name} is missing", "give a text", self.where())
            return default
        return str(self.values[name]).strip()

    def numbers(self, name: str, count: int | None = None) -> list[float]:
        """A list of numbers, [1, 2, 3] or "1; 2; 3"; of `count` members where it is given."""
        value = self.values[name]
        items = value if isinstance(value, list) else str(value).replace(",", ";").split(";")
        found = [Section(self.file, self.name, self.line, {name: i}, self.lines).number(name) for i in items]
        if count is not None and len(found) != count:
            raise DataFileError(f"{name} has {len(found)} numbers", f"give {count}", self.where(name))
        return found

    def pairs(self, name: str) -> list[tuple[float, float]]:
        """A list of pairs of numbers, [[0, 0], [1500, 15]] or "0:0; 1500:15"."""
        value = self.values[name]
        items = value if isinstance(value, list) else [p.split(":") for p in str(value).split(";") if p.strip()]
        hint = "write pairs: [[1500, 15], [12000, 15]] in TOML, 1500:15; 12000:15 in CSV"
        if not items or any(not isinstance(i, list) or len(i) != 2 for i in items):
            raise DataFileError(f"{name} is no list of pairs", hint, self.where(name))
        one = (Section(self.file, self.name, self.line, {name: v}, self.lines) for i in items for v in i)
        flat = [s.number(name) for s in one]
        return list(zip(flat[::2], flat[1::2], strict=True))


def read_sections(path: str, what: str, row: str = "row") -> list[Section]:
    """Sections of a TOML or CSV file in its order. Raises DataFileError naming the file and, where known, the line.

    what: "machine file" and the like, for messages. row: name of the sections that a CSV list's lines become.
    """
    file = Path(path)
    if file.suffix.lower() not in (".toml", ".csv"):
        raise DataFileError(f"a {what} is TOML or CSV", "name it .toml or .csv", file.name)
    try:
        text = file.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise DataFileError(f"cannot read the {what}: {error.strerror}", "check the path", file.name) from error
    except UnicodeDecodeError as error:
        raise DataFileError(f"the {what} is not UTF-8 text", "save it as UTF-8", file.name) from error
    return _toml(text, file.name) if file.suffix.lower() == ".toml" else _csv(text, file.name, row)


def _toml(text: str, file: str) -> list[Section]:
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"line (\d+)", str(error))
        where = f"{file}, line {found[1]}" if found else file
        raise DataFileError(f"not TOML: {error}", "check quotes and brackets on that line", where) from error
    heads = _places(text)
    sections = [Section(file, "", 1, {k: v for k, v in content.items() if not _is_table(v)}, heads[0][2])]
    for name, value in content.items():
        if _is_table(value):
            spots = [h for h in heads if h[0] == name]
            for k, table in enumerate(value if isinstance(value, list) else [value]):
                spot = spots[k] if k < len(spots) else (name, 1, {})
                sections.append(Section(file, name, spot[1], table, spot[2]))
    return sections


def _is_table(value: Any) -> bool:
    return isinstance(value, dict) or (isinstance(value, list) and bool(value) and isinstance(value[0], dict))


def _places(text: str) -> list[tuple[str, int, dict[str, int]]]:
    """Every table of a TOML text with its line and the lines of its fields; first the part above all tables."""
    found: list[tuple[str, int, dict[str, int]]] = [("", 1, {})]
    for number, line in enumerate(text.splitlines(), 1):
        if head := _HEAD.match(line):
            found.append((head[1].strip('"'), number, {}))
        elif key := _KEY.match(line):
            found[-1][2].setdefault(key[1], number)
    return found


def _csv(text: str, file: str, row: str) -> list[Section]:
    lines = [(n, line) for n, line in enumerate(text.splitlines(), 1) if line.strip() and not line.startswith("#")]
    if not lines:
        return []
    header = [name.strip() for name in next(csv.reader([lines[0][1]]))]
    rows = []
    for number, line in lines[1:]:
        values = [v.strip() for v in next(csv.reader([line]))]
        if len(values) > len(header):
            where = f"{file}, line {number}"
            raise DataFileError(f"{len(values)} values under {len(header)} columns", "count the commas", where)
        rows.append((number, dict(zip(header, values, strict=False))))
    if header[:2] != ["field", "value"]:
        return [Section(file, row, n, values, dict.fromkeys(values, n)) for n, values in rows]
    return _named(rows, file)


def _named(rows: list[tuple[int, dict[str, str]]], file: str) -> list[Section]:
    sections = {"": Section(file, "", 1)}
    for number, values in rows:
        name, dot, last = values.get("field", "").rpartition(".")
        section = sections.setdefault(name if dot else "", Section(file, name, number))
        section.values[last] = values.get("value", "")
        section.lines[last] = number
    return list(sections.values())


def only(sections: list[Section], names: tuple[str, ...], what: str) -> dict[str, Section]:
    """One section a name. Raises DataFileError for a name that is not known or comes twice."""
    found: dict[str, Section] = {}
    for section in sections:
        if section.name not in names:
            known = "fields above all tables" + "".join(f", then [{n}]" for n in names if n)
            raise DataFileError(f"unknown table [{section.name}]", f"a {what} has {known}", section.where())
        if section.name in found:
            raise DataFileError(f"[{section.name}] comes twice", "write it once", section.where())
        found[section.name] = section
    return {n: found.get(n, Section(sections[0].file if sections else what, n, 1)) for n in names}
