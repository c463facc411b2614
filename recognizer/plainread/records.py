"""Records of a STEP file (ISO 10303-21) as numbers, references and flags; read when they are asked for."""

from __future__ import annotations

import re
from collections import defaultdict
from math import isfinite, sqrt

from recognizer.stepfile import StepText
from recognizer.vector import cross, dot
from shared.units import Vector

_RECORD = re.compile(rb"#(\d+)=([A-Z_0-9]*)\(([^;]*)\);")
_FIELD = re.compile(rb"\([^()]*\)|[^,()]+")
_REFERENCE = re.compile(rb"#(\d+)")
_BLANKS = b" \t\r\n\f\v"
_FLAGS = {b".T.": True, b".F.": False}

Frame = tuple[Vector, Vector, Vector, Vector]
"""Origin, then unit vectors z, x, y of a placement."""


class NotPlain(Exception):
    """The file holds something that the plain reader does not fully understand: it is for the kernel."""


class Records:
    """Records by number. Everything raises NotPlain where a record is not exactly what is asked for.

    numbers: of all records of each keyword, in file order.
    """

    def __init__(self, text: StepText) -> None:
        # Strings are empty by now, so blanks mean nothing any more.
        found = _RECORD.findall(text.plain.translate(None, _BLANKS))
        self._of: dict[int, tuple[bytes, bytes]] = {}
        self.numbers: dict[bytes, list[int]] = defaultdict(list)
        for n, kind, body in found:
            number = int(n)
            self._of[number] = kind, body
            self.numbers[kind].append(number)
        if not len(self._of) == len(found) == len(text.records.ids):
            raise NotPlain("records of another form, or of one number")
        self._points: dict[int, Vector] = {}
        self._vertices: dict[int, Vector] = {}

    def kind(self, number: int) -> bytes:
        """Keyword of a record; empty for one of several types at once."""
        return self.record(number)[0]

    def body(self, number: int) -> bytes:
        """Text between a record's outer parentheses, strings emptied."""
        return self.record(number)[1]

    def record(self, number: int) -> tuple[bytes, bytes]:
        """Keyword and body of a record."""
        try:
            return self._of[number]
        except KeyError:
            raise NotPlain(f"no record #{number}") from None

    def fields(self, number: int, kind: bytes, count: int) -> list[bytes]:
        """Fields of a record of this kind, lists with their parentheses."""
        found, body = self.record(number)
        if found != kind:
            raise NotPlain(f"#{number} is no {kind.decode()}")
        out = body.split(b",") if b"(" not in body else _FIELD.findall(body)
        if len(out) != count:
            raise NotPlain(f"#{number} has {len(out)} fields")
        return out

    def placement(self, number: int) -> Frame:
        """A right-handed frame: z as written, x as near to the reference direction as it can be square to z."""
        _, origin, axis, towards = self.fields(number, b"AXIS2_PLACEMENT_3D", 4)
        z, near = self.direction(reference(axis)), self.direction(reference(towards))
        across = cross(near, z)
        if dot(across, across) < 1e-8:
            raise NotPlain(f"#{number} has parallel directions")
        x = unit_of(cross(z, across))
        return self.point(reference(origin)), z, x, cross(z, x)

    def point(self, number: int) -> Vector:
        """A cartesian point in three dimensions."""
        found = self._points.get(number)
        if found is None:
            found = self._points[number] = self._three(number, b"CARTESIAN_POINT")
        return found

    def direction(self, number: int) -> Vector:
        """A direction as a unit vector, made so twice as the kernel does: its last bits are then the kernel's."""
        return unit_of(unit_of(self._three(number, b"DIRECTION")))

    def vertex(self, number: int) -> Vector:
        """The point of a vertex."""
        found = self._vertices.get(number)
        if found is None:
            found = self._vertices[number] = self.point(reference(self.fields(number, b"VERTEX_POINT", 2)[1]))
        return found

    def _three(self, number: int, kind: bytes) -> Vector:
        """The three coordinates of a point or direction, whose one other field is its name."""
        found, body = self.record(number)
        if found != kind or body[:4] != b"'',(" or body[-1:] != b")" or b"_" in body:
            raise NotPlain(f"#{number} is no {kind.decode()} of three coordinates")
        try:
            a, b, c = body[4:-1].split(b",")
            x, y, z = float(a), float(b), float(c)
        except ValueError:
            raise NotPlain("not three coordinates") from None
        if not isfinite(x + y + z):
            raise NotPlain("a coordinate is not finite")
        return x, y, z


def reference(field: bytes) -> int:
    """Number of the record that a field refers to."""
    digits = field[1:]
    if field[:1] != b"#" or not digits.isdigit():
        raise NotPlain("a reference is missing")
    return int(digits)


def references(field: bytes) -> list[int]:
    """Numbers of the records in a list of references."""
    return [int(n) for n in _REFERENCE.findall(field)]


def flag(field: bytes) -> bool:
    """.T. or .F."""
    if field not in _FLAGS:
        raise NotPlain("a flag is missing")
    return _FLAGS[field]


def real(field: bytes) -> float:
    """A finite real number."""
    try:
        value = float(field)
    except ValueError:
        raise NotPlain("a number is missing") from None
    if not isfinite(value) or b"_" in field:
        raise NotPlain("a number is not finite")
    return value


def unit_of(v: Vector) -> Vector:
    """v at length 1."""
    size = sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2])
    if size < 1e-9:
        raise NotPlain("a direction has no length")
    return (v[0] / size, v[1] / size, v[2] / size)
