"""What a drawing says and a model cannot: threads, tolerances and surface roughness, from a small file of notes.

A note names its place by `diameter` (every hole cylinder of that size), by `feature` (an id of the features document),
by `face` (an index of it), or by feature and diameter together. TOML:

    [[thread]]
    diameter = 10.2
    size = "M12"
    depth = 20

    [[tolerance]]
    feature = "round_hole-ae5a9d"
    grade = "H7"

    [[roughness]]
    face = 12
    Ra = 0.8

The same as a CSV list: columns note,diameter,feature,face and size,depth,grade,upper,lower,Ra as needed.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from shared.errors import DataFileError
from shared.features import HOLE_KINDS, Feature, FeaturesDocument
from shared.shop.files import Section, read_sections
from shared.tables.load import thread

WHAT = "notes file"
KINDS = ("thread", "tolerance", "roughness")
PLACE = ("diameter", "feature", "face")
FIELDS = {"thread": ("size", "depth"), "tolerance": ("grade", "upper", "lower"), "roughness": ("Ra",)}
MATCH_MM = 0.011
"""A cylinder within this of a note's diameter is meant by it."""
FINE_RA = 1.6
"""Micrometres: a hole's wall that must be this smooth is reamed or bored, as one of grade 8; from memory."""


@dataclass(frozen=True)
class Note:
    """One note: its place, and what it asks for. grade: ISO 286 tolerance grade (7 of H7). Ra in micrometres."""

    kind: str
    where: str
    diameter: float | None = None
    feature: str | None = None
    face: int | None = None
    size: str = ""
    depth: float | None = None
    grade: int | None = None
    text: str = ""
    Ra: float | None = None

    def means(self, feature: Feature, diameter: float) -> bool:
        """Whether the note is about the cylinder of `diameter` of a hole."""
        if self.face is not None:
            return any(self.face in s.faces and abs(s.diameter - diameter) <= MATCH_MM for s in feature.steps)
        right = self.diameter is None or abs(self.diameter - diameter) <= MATCH_MM
        if self.feature is None or self.diameter is not None:
            return right and self.feature in (None, feature.id)
        bores = [s.diameter for s in feature.steps if s.surface == "cylinder"] or [diameter]
        return self.feature == feature.id and abs(min(bores) - diameter) <= MATCH_MM

    def faces(self, feature: Feature) -> set[int]:
        """Faces of a feature that the note is about; of a whole feature all."""
        if self.face is not None:
            return {self.face} & set(feature.faces)
        if self.diameter is not None:
            return {i for s in feature.steps if self.means(feature, s.diameter) for i in s.faces}
        return set(feature.faces) if self.feature == feature.id else set()

    @property
    def place(self) -> str:
        """'10.2 mm', 'face 12', an id."""
        pieces = [self.feature or "", f"face {self.face}" if self.face is not None else ""]
        pieces.append(f"{self.diameter:g} mm" if self.diameter is not None else "")
        return " ".join(p for p in pieces if p)


@dataclass(frozen=True)
class Notes:
    """The notes of a file in its order; the first that fits a place holds."""

    notes: tuple[Note, ...] = ()

    def thread(self, feature: Feature, diameter: float) -> Note | None:
        """The thread asked for in a hole."""
        return self._first("thread", feature, diameter)

    def hole_grade(self, feature: Feature, diameter: float) -> tuple[int, str] | None:
        """The finest grade that a hole's cylinder is asked for, and the note's words; a smooth wall counts as grade 8."""
        asked = []
        tolerance, smooth = self._first("tolerance", feature, diameter), self._first("roughness", feature, diameter)
        if tolerance and tolerance.grade is not None:
            asked.append((tolerance.grade, f"{tolerance.text} asked for {tolerance.place}"))
        if smooth and smooth.Ra is not None and smooth.Ra <= FINE_RA:
            asked.append((8, f"Ra {smooth.Ra:g} asked for {smooth.place}"))
        return min(asked) if asked else None

    def _first(self, kind: str, feature: Feature, diameter: float) -> Note | None:
        if feature.kind not in HOLE_KINDS:
            return None
        return next((n for n in self.notes if n.kind == kind and n.means(feature, diameter)), None)

    def of(self, kind: str, feature: Feature) -> list[tuple[Note, set[int]]]:
        """Notes of a kind about a feature, each with the faces it means."""
        return [(n, faces) for n in self.notes if n.kind == kind and (faces := n.faces(feature))]

    def unused(self, document: FeaturesDocument) -> list[tuple[Note, str]]:
        """Notes that match nothing, with what is wrong with their place."""
        return [(n, why) for n in self.notes if (why := _mismatch(n, document))]


def _mismatch(note: Note, document: FeaturesDocument) -> str:
    holes_only = note.kind == "thread" or note.diameter is not None
    found = [f for f in document.features if f.kind in HOLE_KINDS] if holes_only else document.features
    if note.feature is not None and note.feature not in {f.id for f in document.features}:
        return f"no feature is called {note.feature}"
    if note.face is not None and note.face not in {f.index for f in document.faces}:
        return f"the part has no face {note.face}"
    if any(note.faces(f) for f in found):
        return ""
    if note.diameter is not None:
        return f"no hole has a cylinder of {note.diameter:g} mm" + (f" in {note.feature}" if note.feature else "")
    return f"{note.place} is no hole" if holes_only else f"no feature owns {note.place}"


def load_notes(path: str | None) -> Notes:
    """The notes of a TOML or CSV file; none for None. Raises DataFileError naming file, line and field."""
    if path is None:
        return Notes()
    found = []
    for section in read_sections(path, WHAT, "note"):
        if section.name == "note":
            section.name = section.text("note")
            section.values.pop("note")
        if section.name == "" and not section.values:
            continue
        if section.name not in KINDS:
            what = f"unknown note {section.name!r}" if section.name else "a field stands outside all notes"
            raise DataFileError(what, f"write one of [[{']], [['.join(KINDS)}]]", section.where())
        found.append(_note(section))
    return Notes(tuple(found))


def _note(section: Section) -> Note:
    kind = section.name
    every = (*PLACE, *(f for fields in FIELDS.values() for f in fields), "note")
    section.check_names((*PLACE, *FIELDS[kind], "note") if not section.file.endswith(".csv") else every)
    if not any(section.has(p) for p in PLACE):
        raise DataFileError(f"a {kind} without a place", "give diameter, feature or face", section.where())
    where = section.where()
    diameter = section.number("diameter", low=0.01) if section.has("diameter") else None
    feature = section.text("feature") if section.has("feature") else None
    face = section.whole("face") if section.has("face") else None
    place = (kind, where, diameter, feature, face)
    if kind == "thread":
        return Note(
            *place, size=_size(section), depth=section.number("depth", low=0.1) if section.has("depth") else None
        )
    if kind == "roughness":
        return Note(*place, Ra=section.number("Ra", low=0.01, high=100.0))
    grade, text = _grade(section, diameter)
    return Note(*place, grade=grade, text=text)


def _size(section: Section) -> str:
    row = thread(section.text("size"))
    if row is None:
        raise DataFileError(
            f"thread {section.text('size')!r} is in no table", 'write it as "M12" or "M10x1"', section.where("size")
        )
    return row.size


def _grade(section: Section, diameter: float | None) -> tuple[int, str]:
    """Grade and words of a tolerance: a class such as H7, or limits in mm whose width tells the grade."""
    if section.has("grade"):
        text = section.text("grade")
        found = re.fullmatch(r"(?:[A-Za-z]{1,2}|IT) ?(\d{1,2})", text)
        if not found or not 1 <= int(found[1]) <= 18:
            raise DataFileError(
                f"{text!r} is no tolerance class", "write H7, JS9 or IT8 (ISO 286)", section.where("grade")
            )
        return int(found[1]), text
    if not section.has("upper") or not section.has("lower"):
        raise DataFileError("a tolerance needs grade, or upper and lower", 'grade = "H7"', section.where())
    upper = section.number("upper", low=-math.inf)
    lower = section.number("lower", low=-math.inf)
    if upper <= lower:
        raise DataFileError("upper is not above lower", "in mm from the nominal size", section.where("upper"))
    return it_grade(upper - lower, diameter or 30.0), f"{upper:+g} / {lower:+g}"


def it_width(grade: int, diameter: float) -> float:
    """Width in mm of an ISO 286-1 grade 5 to 18: multiples of i = 0.45 D^(1/3) + 0.001 D micrometres, not rounded.

    D is the diameter itself, where the standard takes the geometric mean of a range and rounds: within about a tenth.
    Source: ISO 286-1, from memory; checked against H7 of D10 (15) and D40 (25) as printed in an ISO 14649 example.
    """
    i = 0.45 * diameter ** (1.0 / 3.0) + 0.001 * diameter
    multiples = {5: 7.0, 6: 10.0, 7: 16.0, 8: 25.0, 9: 40.0, 10: 64.0}
    return multiples.get(grade, 100.0 * 10.0 ** ((grade - 11) / 5.0)) * i / 1000.0


def it_grade(width: float, diameter: float) -> int:
    """The coarsest grade whose width is not more than 1.1 of `width`: what must be held to stay within it."""
    return max((g for g in range(5, 19) if it_width(g, diameter) <= 1.1 * width), default=4)
