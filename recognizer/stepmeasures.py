"""What a STEP file's text says of its measures, where the kernel would take them wrongly without a word.

Units whose name and size disagree; placements that scale or mirror, which the kernel leaves out; and record numbers
beyond its 32 bits, which it takes for others.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np

from recognizer.stepgraph import References
from shared.errors import NotStep

LARGEST_ID = 2**31 - 1
"""Highest record number that the kernel can hold."""
SIZES = {
    "INCH": 25.4, "IN": 25.4, "FOOT": 304.8, "FEET": 304.8, "FT": 304.8, "YARD": 914.4,
    "MILLIMETRE": 1.0, "MILLIMETER": 1.0, "CENTIMETRE": 10.0, "CENTIMETER": 10.0, "METRE": 1000.0, "METER": 1000.0,
}  # fmt: skip
"""Mm in a unit by its name: the inch of 1959 (25.4 mm), and what follows from it."""
ANGLES = {"DEGREE": np.pi / 180, "DEGREES": np.pi / 180, "DEG": np.pi / 180, "GRAD": np.pi / 200, "GON": np.pi / 200}
"""Radians in a unit by its name."""
PREFIXES = {b"MICRO": 1e-3, b"MILLI": 1.0, b"CENTI": 10.0, b"DECI": 100.0, b"": 1e3, b"KILO": 1e6}
"""Mm in a metre with this prefix."""
OFF = 1e-3
"""Share by which a unit's size may differ from what its name says: rounded factors do."""
SQUARE = 1e-6

_NAMED = re.compile(rb"CONVERSION_BASED_UNIT\s*\(\s*'([^']*)'\s*,\s*#(\d+)")
_MEASURE = re.compile(rb"(?:LENGTH|PLANE_ANGLE)_MEASURE\s*\(\s*([-+.\dEe]+)\s*\)\s*,\s*#(\d+)")
_METRE = re.compile(rb"SI_UNIT\s*\(\s*(?:\.([A-Z]+)\.|\$)\s*,\s*\.METRE\.")
_PLACED = re.compile(rb"CARTESIAN_TRANSFORMATION_OPERATOR_3D\s*\(([^()]*)\)")
_NUMBERS = re.compile(rb"[-+]?\d+\.?\d*(?:[Ee][-+]?\d+)?")
_DIRECTION = re.compile(rb"DIRECTION\s*\(\s*''\s*,\s*\(([^()]*)\)")


def check_measures(body: bytes, plain: bytes, records: References) -> None:
    """Raises NotStep naming the record. body: the file's text; plain: the same without strings and comments."""
    if len(records.ids) and int(records.ids.max()) > LARGEST_ID:
        raise NotStep(
            f"The file numbers its records beyond {LARGEST_ID}, which the kernel cannot tell apart.",
            "Open it in a modelling program and export it again: that numbers the records anew.",
            f"#{int(records.ids.max())}",
        )
    record = _finder(plain, records)
    if b"CONVERSION_BASED_UNIT" in plain:
        _check_units(body, record)
    if b"CARTESIAN_TRANSFORMATION_OPERATOR_3D" in plain:
        _check_placements(plain, record)


def _finder(plain: bytes, records: References) -> Callable[[int], bytes]:
    """Text of a record by its number; nothing where it is not there."""

    def find(number: int) -> bytes:
        at = np.flatnonzero(records.ids == number)
        if not len(at):
            return b""
        k = int(at[-1])
        end = records.starts[k + 1] if k + 1 < len(records.starts) else len(plain)
        return plain[records.starts[k] : end]

    return find


def _check_units(body: bytes, record: Callable[[int], bytes]) -> None:
    for match in _NAMED.finditer(body):
        name = match.group(1).decode("ascii", "replace").strip().upper()
        means = (SIZES | ANGLES).get(name)
        measure = _MEASURE.search(record(int(match.group(2))))
        if not measure or means is None:
            continue
        try:
            size = float(measure.group(1))
        except ValueError:
            continue
        if name in SIZES:
            metre = _METRE.search(record(int(measure.group(2))))
            if not metre:
                continue
            size *= PREFIXES.get(metre.group(1) or b"", 1.0)
        if not abs(size - means) <= OFF * means:
            unit = "mm" if name in SIZES else "radians"
            raise NotStep(
                f"The file calls its unit {name} and says that it is {size:.6g} {unit}; it is {means:.6g}.",
                "Sizes cannot be trusted: check the length and angle units of the export and export the part again.",
                f"#{int(match.group(2))}",
            )


def _check_placements(plain: bytes, record: Callable[[int], bytes]) -> None:
    for match in _PLACED.finditer(plain):
        fields = [f.strip() for f in match.group(1).split(b",")]
        scale = _NUMBERS.fullmatch(fields[5]) if len(fields) > 5 else None
        if scale and abs(float(scale.group()) - 1) > SQUARE:
            _refuse_placement(f"at {float(scale.group()):g} times its size")
        if len(fields) == 7 and _mirrors([fields[k] for k in (2, 3, 6)], record):
            _refuse_placement("mirrored")


def _mirrors(fields: list[bytes], record: Callable[[int], bytes]) -> bool:
    """Whether three directions are left-handed; False where one is not told."""
    if not all(f[:1] == b"#" and f[1:].isdigit() for f in fields):
        return False
    found = [_DIRECTION.search(record(int(f[1:]))) for f in fields]
    axes = [[float(n) for n in _NUMBERS.findall(d.group(1))] for d in found if d]
    return len(axes) == 3 and all(len(a) == 3 for a in axes) and bool(np.linalg.det(np.array(axes)) < -SQUARE)


def _refuse_placement(how: str) -> None:
    raise NotStep(
        f"The file places its part {how}, which is not followed.",
        "Export the part itself, as it is to be cut, and not its place in an assembly.",
    )
