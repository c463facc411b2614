"""What the text of a STEP file (ISO 10303-21) tells before the kernel sees it.

The kernel crashes or hangs on many broken files. What can be told from the text is told here, in plain words;
what the text does not show, the worker process has to survive.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from recognizer.stepgraph import References, check_references, references
from recognizer.stepmeasures import check_measures
from shared.errors import NotStep

MAX_BYTES = 256 * 2**20
"""Largest file that is read at all, bytes: ten times the text of a part of 5,000 faces."""
MAX_NESTING = 60
"""Deepest nesting of parentheses that is let through; real files stay below ten, the kernel recurses on each."""
MAX_WORD = 16_000
"""Longest string, number, name or keyword: the kernel's reader gives a file up at 16,384 characters, as measured."""

_FAR_APART = re.compile(rb"'[^']{%d}" % MAX_WORD)
_WORDS = re.compile(rb"[\s();=]+")
_HEADER = re.compile(rb"ISO-10303-21[\s']*;[\s']*HEADER[\s']*;")
_DATA = re.compile(rb"\bDATA[\s']*[;(]")
_QUOTED = re.compile(rb"'[^']*'|/\*.*?\*/", re.DOTALL)
_DIGITS_AS_0 = bytes.maketrans(b"123456789abcdefghijklmnopqrstuvwxyz", b"000000000ABCDEFGHIJKLMNOPQRSTUVWXYZ")
_MAYBE_NOT_FINITE = (b"E000", b"E+000", b"NAN", b"INF", b"#IND")
_NOT_FINITE = re.compile(
    rb"[(,]\s*[-+]?(?:nan|inf|infinity)\b|\d\.?#(?:inf|ind|qnan|snan)|\d\.?e\+?0*(?:30[89]|3[1-9]\d|[4-9]\d\d|[1-9]\d{3,})",
    re.IGNORECASE,
)
_SCHEMA = re.compile(rb"FILE_SCHEMA\s*\(\s*\(\s*'([^']*)'", re.IGNORECASE)
_ALL_BUT_BRACKETS = bytes(c for c in range(256) if c not in b"()")
_PROTOCOLS = (
    ("AP242", ("AP242", " 442 ")),
    ("AP214", ("AUTOMOTIVE_DESIGN", "AP214", " 214 ")),
    ("AP203", ("CONFIG_CONTROL_DESIGN", "AP203", " 203 ", " 403 ")),
)
_CURVED = (
    b"CYLINDRICAL_SURFACE CONICAL_SURFACE SPHERICAL_SURFACE TOROIDAL_SURFACE SPLINE_SURFACE BEZIER_SURFACE SURFACE_OF_ "
    b"OFFSET_SURFACE BOUNDED_SURFACE TRIMMED_SURFACE CIRCLE ELLIPSE HYPERBOLA PARABOLA"
).split()
_LOOKS_LIKE = (
    (b"PK\x03\x04", "a zip archive", "Unpack it and give the .step file inside."),
    (b"\x1f\x8b", "a gzip archive", "Unpack it and give the .step file inside."),
    (b"\xff\xfe", "UTF-16 text", "Save it again as plain text (UTF-8 or ASCII)."),
    (b"\xfe\xff", "UTF-16 text", "Save it again as plain text (UTF-8 or ASCII)."),
    (b"solid", "a triangle mesh (STL)", "A mesh has no exact faces: export the solid itself as STEP."),
    (b"%PDF", "a PDF", "Export the model as STEP (AP203, AP214 or AP242)."),
)


@dataclass(frozen=True)
class StepText:
    """A STEP file's text and what was found in it.

    data: the file's bytes without a leading byte order mark or blanks. plain: the same, comments gone and strings
    emptied. records: in file order, which is the kernel's order too.
    """

    data: bytes
    plain: bytes
    sha256: str
    protocol: str
    records: References

    @property
    def polyhedral(self) -> bool:
        """Whether all its surfaces are planes, and so their common edges straight."""
        return not any(mark in self.plain for mark in _CURVED)

    def records_of(self, keyword: bytes) -> list[tuple[int, int]]:
        """(place in file order from 0, record number) of every record of this entity."""
        starts = [m.start() for m in re.finditer(rb"=\s*" + keyword + rb"\s*\(", self.plain)]
        places = np.searchsorted(self.records.starts, starts) - 1
        return [(int(place), int(self.records.ids[place])) for place in places]


def read_text(source: str | Path | bytes, *, max_bytes: int = MAX_BYTES) -> StepText:
    """The checked text of a STEP file, given by its path or as its bytes. Raises NotStep saying what is wrong and what
    to try.
    """
    data = source if isinstance(source, bytes) else _bytes_of(Path(source), max_bytes)
    _check_length(len(data), max_bytes)
    body = data.removeprefix(b"\xef\xbb\xbf").lstrip()
    _check_frame(body)
    plain = _without_strings(body)
    _check_words(body, plain)
    _check_sections(plain)
    _check_brackets(plain)
    _check_numbers(plain)
    records = references(plain)
    if not len(records.ids):
        raise NotStep("The file's data section is empty.", "Export the model again; this file holds only a header.")
    check_references(records, plain)
    check_measures(body, plain, records)
    return StepText(body, plain, hashlib.sha256(data).hexdigest(), _protocol(body), records)


def _bytes_of(path: Path, max_bytes: int) -> bytes:
    if path.is_dir():
        raise NotStep(f"{path.name} is a folder, not a STEP file.", "Give the path of one .step or .stp file.")
    try:
        _check_length(path.stat().st_size, max_bytes)
        return path.read_bytes()
    except FileNotFoundError:
        raise NotStep(f"There is no file {path.name}.", "Check the path and its spelling.") from None
    except OSError as error:
        reason = error.strerror or "unknown reason"
        raise NotStep(f"{path.name} cannot be read: {reason}.", "Check the file's permissions.") from None


def _check_length(size: int, max_bytes: int) -> None:
    if size > max_bytes:
        raise NotStep(
            f"The file is {size / 2**20:.0f} MB; the limit is {max_bytes / 2**20:.0f} MB.",
            "Export only the one part to be machined, not the whole assembly.",
        )


def _without_strings(body: bytes) -> bytes:
    """A text with its strings emptied and its comments taken for empty strings."""
    pieces = body.split(b"'")
    if len(pieces) % 2 and b"/*" not in body:  # without comments every second piece is a string's inside
        return b"''".join(pieces[::2])
    return _QUOTED.sub(b"''", body)


def _check_frame(body: bytes) -> None:
    """Begins and ends as ISO 10303-21 asks: ISO-10303-21; ... END-ISO-10303-21;"""
    if not body:
        raise NotStep("The file is empty.", "Export the model again and check that the copy was completed.")
    if not body.startswith(b"ISO-10303-21"):
        for start, what, hint in _LOOKS_LIKE:
            if body.startswith(start):
                raise NotStep(f"This is not a STEP file: it looks like {what}.", hint)
        raise NotStep(
            "This is not a STEP file: it does not begin with ISO-10303-21.",
            "Export the model as STEP (AP203, AP214 or AP242), not as a native, mesh or drawing file.",
        )
    if b"END-ISO-10303-21" not in body[-4096:] and b"END-ISO-10303-21" not in body:
        line = body.count(b"\n") + 1
        raise NotStep(
            "The file is truncated: its closing END-ISO-10303-21 is missing.",
            "The export or the copy was cut off: export or copy it again.",
            f"line {line}",
        )


def _check_words(body: bytes, plain: bytes) -> None:
    """Comments end, only strings hold letters beyond ASCII, and no string or other word is longer than the kernel reads."""
    if b"/*" in plain:
        raise NotStep("The file is damaged: a comment in it never ends.", "Export the model again.")
    if not plain.isascii():
        raise NotStep(
            "The file is damaged: it holds letters outside its strings that STEP files do not have.",
            "Export the model again, and do not open it in a text editor.",
        )
    long = _FAR_APART.search(body) and any(len(s) > MAX_WORD and s[:1] == b"'" for s in _QUOTED.findall(body))
    if long or any(
        len(w) > MAX_WORD for piece in plain.split(b",") if len(piece) > MAX_WORD for w in _WORDS.split(piece)
    ):
        raise NotStep(
            f"The file holds a word or a string of more than {MAX_WORD} characters, which the kernel cannot read.",
            "Export the model again, without notes and pictures in it.",
        )


def _check_sections(plain: bytes) -> None:
    """A header section stands before the data section (ISO 10303-21, 5): without them the kernel reads no record."""
    head, data = _HEADER.match(plain), _DATA.search(plain)
    if not head or not data or not 0 < plain.find(b"ENDSEC", head.end()) < data.start():
        raise NotStep(
            "The file is damaged: its HEADER or DATA section does not begin or end as it must.",
            "Export the model again: HEADER; ... ENDSEC; DATA; ... ENDSEC; have to follow ISO-10303-21; in this order.",
        )


def _check_brackets(plain: bytes) -> None:
    """Parentheses pair up and do not nest deeper than the kernel survives."""
    brackets = plain.translate(None, _ALL_BUT_BRACKETS)
    for _ in range(MAX_NESTING):
        if not brackets:
            return
        shorter = brackets.replace(b"()", b"")
        if len(shorter) == len(brackets):
            raise NotStep("The file is damaged: its parentheses do not pair up.", "Export the model again.")
        brackets = shorter
    if brackets:
        raise NotStep(
            f"The file nests parentheses more than {MAX_NESTING} deep, which no real model does.",
            "The file is damaged or made to harm: export the model again.",
        )


def _check_numbers(plain: bytes) -> None:
    coarse = plain.translate(_DIGITS_AS_0)
    if not any(mark in coarse for mark in _MAYBE_NOT_FINITE):
        return  # the careful search below costs twenty times as much
    found = _NOT_FINITE.search(plain)
    if found:
        number = plain[: found.start()].rfind(b"#")
        record = re.match(rb"#\d+", plain[number:]) if number >= 0 else None
        raise NotStep(
            f"The file holds a number that is not finite: {found.group().lstrip(b'(, ').decode('ascii', 'replace')}.",
            "The exporting program met a broken face or edge: repair the model there and export it again.",
            record.group().decode() if record else "",
        )


def _protocol(body: bytes) -> str:
    """AP203, AP214 or AP242 by the header's FILE_SCHEMA, or the schema's own name; '' where none is written."""
    found = _SCHEMA.search(body, 0, 65536)
    name = found.group(1).decode("ascii", "replace").strip() if found else ""
    upper = f" {name.upper()} "
    for protocol, marks in _PROTOCOLS:
        if any(mark in upper for mark in marks):
            return protocol
    return name.split("{")[0].strip()
