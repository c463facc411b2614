"""Typed look-ups in the standards' tables beside this file; every row names its source.

Values: threads ISO 261, tap drills ISO 2306, clearance holes ISO 273, heads ISO 4762, counterbores DIN 974-1,
countersinks DIN 74 and ISO 15065, thread run-out DIN 76-2, dowel pins ISO 2338 / ISO 8734, inch threads ASME B1.1.
All lengths mm. Files are read once and kept.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from shared.features import Hint
from shared.units import from_inches

FOLDER = Path(__file__).parent
MATCH_MM = 0.011
"""A hole within this of a tabulated diameter is taken for it: steps of the metric drill series are 0.1 mm."""
INCH_MATCH_MM = 0.004
"""Inch sizes lie between metric ones, so they must match closer."""


@dataclass(frozen=True)
class Thread:
    """A thread with its tap drill: nominal diameter D, pitch P and drill in mm."""

    size: str
    D: float
    P: float
    drill: float
    series: str
    source: str

    @property
    def minor(self) -> float:
        """Basic minor diameter D1 = D - 1.082532 P (ISO 724)."""
        return self.D - 1.082532 * self.P


def _rows(name: str) -> list[dict[str, str]]:
    with (FOLDER / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@lru_cache(maxsize=1)
def threads() -> dict[str, Thread]:
    """All threads by size: `M12`, `M10x1` (ISO 261 with ISO 2306), `1/4-20` (ASME B1.1)."""
    drills = {row["size"]: row for row in _rows("iso_2306.csv")}
    found = {}
    for row in _rows("iso_261.csv"):
        drill = drills[row["size"]]
        found[row["size"]] = Thread(
            row["size"], float(row["D"]), float(row["P"]), float(drill["drill"]), row["series"], drill["source"]
        )
    for row in _rows("asme_b1_1.csv"):
        diameter, pitch = from_inches(float(row["D_inch"])), from_inches(1.0) / float(row["threads_per_inch"])
        drill_mm = from_inches(float(row["drill_inch"]))
        found[row["size"]] = Thread(row["size"], diameter, pitch, drill_mm, row["series"], row["source"])
    return found


def thread(size: str) -> Thread | None:
    """The thread called `size`, None when no table has it. `m12`, `M12x1.75` and `M12 x 1.75` all mean M12."""
    key = size.strip().replace(" ", "").replace("X", "x").replace("*", "x")
    key = key[:1].upper() + key[1:]
    known = threads()
    if key in known:
        return known[key]
    name, _, pitch = key.partition("x")
    coarse = known.get(name)
    return coarse if coarse and pitch and _same_number(pitch, coarse.P) else None


def _same_number(text: str, value: float) -> bool:
    try:
        return abs(float(text) - value) < 1e-9
    except ValueError:
        return False


@lru_cache(maxsize=1)
def _run_outs() -> list[tuple[float, float, float]]:
    return [(float(r["P"]), float(r["e1_normal"]), float(r["e1_short"])) for r in _rows("din_76_2.csv")]


def run_out(pitch: float, short: bool = False) -> float:
    """Length e1 that a blind hole is drilled deeper than its thread, mm (DIN 76-2); interpolated between pitches."""
    table = _run_outs()
    column = 2 if short else 1
    if pitch <= table[0][0]:
        return table[0][column] * pitch / table[0][0]
    for low, high in zip(table, table[1:], strict=False):
        if pitch <= high[0]:
            return low[column] + (high[column] - low[column]) * (pitch - low[0]) / (high[0] - low[0])
    return table[-1][column] * pitch / table[-1][0]


@lru_cache(maxsize=4096)
def _hints(diameter: float) -> tuple[Hint, ...]:
    return (*_tap_hints(diameter), *_clearance_hints(diameter), *_dowel_hints(diameter))


def hole_hints(diameter: float) -> list[Hint]:
    """What a plain hole of this diameter in mm may be for: tap drill, clearance, dowel. Hints, never claims."""
    return list(_hints(round(diameter, 4)))


def _tap_hints(diameter: float) -> list[Hint]:
    found = []
    for row in threads().values():
        limit = INCH_MATCH_MM if row.series in ("UNC", "UNF") else MATCH_MM
        if abs(diameter - row.drill) <= limit:
            text = f"{_mm(row.drill)} mm is the tap drill of {row.size} (pitch {_mm(row.P)} mm)"
            found.append(Hint(use="tap_drill", size=row.size, text=text, source=row.source))
    return found


def _clearance_hints(diameter: float) -> list[Hint]:
    found = []
    for row in _cached_rows("iso_273.csv"):
        for series in ("fine", "medium", "coarse"):
            if abs(diameter - float(row[series])) <= MATCH_MM:
                text = f"{row[series]} mm is the clearance hole of {row['size']}, {series} series"
                found.append(Hint(use="clearance", size=row["size"], text=text, source=row["source"]))
    return found


def _dowel_hints(diameter: float) -> list[Hint]:
    found = []
    for row in _cached_rows("dowel_h7.csv"):
        if -0.001 <= diameter - float(row["d"]) <= MATCH_MM:
            text = f"{row['d']} mm is a dowel pin's diameter: the hole may be meant {row['d']} H7, drilled and reamed"
            found.append(Hint(use="dowel", size=f"{row['d']} H7", text=text, source=row["source"]))
    return found


def counterbore_hints(diameter: float) -> list[Hint]:
    """Which socket head screw a counterbore of this diameter in mm may be for (DIN 974-1)."""
    return [
        Hint(
            use="counterbore",
            size=row["size"],
            text=f"{row['d']} mm is the counterbore of {row['size']} socket head screws, {row['depth']} mm deep",
            source=row["source"],
        )
        for row in _cached_rows("din_974_1.csv")
        if abs(diameter - float(row["d"])) <= MATCH_MM
    ]


def countersink_hints(diameter: float, angle: float = 90.0) -> list[Hint]:
    """Which countersunk screw a mouth of this diameter in mm and included angle in degrees may be for (DIN 74)."""
    return [
        Hint(
            use="countersink",
            size=row["size"],
            text=f"{row['d2']} mm at {row['angle']} degrees is the countersink of {row['size']}, form {row['form']}",
            source=row["source"],
        )
        for row in _cached_rows("din_74.csv")
        if abs(diameter - float(row["d2"])) <= 0.06 and abs(angle - float(row["angle"])) <= 0.5
    ]


@lru_cache(maxsize=8)
def _cached_rows(name: str) -> list[dict[str, str]]:
    return _rows(name)


def _mm(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")
