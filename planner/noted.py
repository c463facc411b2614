"""Finish passes for surfaces whose roughness or tolerance the notes name: slower, and once more where it must be fine.

What a process gives, from memory: drilling Ra 3.2 to 6.3, finish milling 0.8 to 3.2, reaming and boring 0.8 to 1.6;
below 0.4 a surface is ground or lapped.
"""

from __future__ import annotations

import math

from planner.recipes.base import Recipe
from shared.features import HOLE_KINDS, Feature
from shared.findings import Finding
from shared.plan import Operation
from shared.shop.notes import Note, Notes

GROUND_RA = 0.4
TWICE_RA = 0.8
SLOW_RA = 1.6
SLOW, SLOWER = 0.6, 0.4
"""Share of the feed for Ra up to 1.6 and up to 0.8; common practice, no source."""
RT_OF_RA = 4.0
"""Height of a turned or milled profile over its mean roughness; common practice, no source."""
FINE_GRADE, FINEST_GRADE = 7, 5
"""Tolerance grades of walls from which they are cut twice, and below which they are ground; common practice."""


def finish_as_noted(recipe: Recipe, features: list[Feature], notes: Notes) -> None:
    """Slows and repeats the operations that bring noted faces to size; says what no cutter of a mill can give."""
    for feature in features if notes.notes else []:
        for note, faces in notes.of("roughness", feature):
            _rough(recipe, feature, note, faces)
        if feature.kind not in HOLE_KINDS:
            for note, faces in notes.of("tolerance", feature):
                _close(recipe, feature, note, faces)


def _rough(recipe: Recipe, feature: Feature, note: Note, faces: set[int]) -> None:
    wanted = note.Ra or 0.0
    if wanted < GROUND_RA:
        _say(
            recipe, feature, "finish_not_milled", f"Ra {wanted:g} at {note.place} is finer than milling gives: grind it"
        )
    for op in _bringing(recipe, faces):
        if op.kind in ("drilling", "multistep_drilling") and wanted < 3.2:
            _say(
                recipe,
                feature,
                "roughness_not_met",
                f"{op.name} leaves Ra 3.2 to 6.3, {note.place} asks for Ra {wanted:g}",
            )
        elif op.kind not in ("drilling", "multistep_drilling", "center_drilling", "counter_sinking", "tapping"):
            _slow(op, note)
            if wanted <= TWICE_RA:
                _again(op, f"Ra {wanted:g} at {note.place}")


def _slow(op: Operation, note: Note) -> None:
    """The feed for a roughness: by practice, and by f^2 / (8 RE) for a cutter with a radius (a tool maker's formula)."""
    wanted = note.Ra or 0.0
    share = SLOWER if wanted <= TWICE_RA else SLOW if wanted <= SLOW_RA else 1.0
    teeth = max(op.tool.NOF or 1, 1)
    tooth = op.feed / (op.speed * teeth)
    why = f"feed at {share:.0%}"
    if 0.0 < op.tool.RE < op.tool.DC / 2.0:
        limit = math.sqrt(8.0 * op.tool.RE * RT_OF_RA * wanted / 1000.0)
        if limit < share * tooth:
            share, why = limit / tooth, f"feed at {limit / tooth:.0%}: f^2 / (8 RE) leaves {RT_OF_RA:g} Ra"
    if share < 1.0:
        op.minutes += op.path_length / op.feed * (1.0 / share - 1.0)
        op.feed *= share
        op.power *= share
        op.because.append(f"{why} for Ra {wanted:g} at {note.place} ({note.where})")


def _again(op: Operation, why: str) -> None:
    """Once more over the same path, with nothing left but what the cutter sprang back from."""
    if any("twice" in text for text in op.because):
        return
    op.minutes += op.path_length / op.feed
    op.path_length *= 2.0
    op.because.append(f"twice over the same path for {why}: the second pass takes what the cutter sprang back from")


def _close(recipe: Recipe, feature: Feature, note: Note, faces: set[int]) -> None:
    grade = note.grade or 18
    if grade < FINEST_GRADE:
        _say(
            recipe,
            feature,
            "tolerance_not_milled",
            f"{note.text} at {note.place} is closer than milling holds: grind it",
        )
    if grade <= FINE_GRADE:
        for op in _bringing(recipe, faces):
            _again(op, f"{note.text} at {note.place}: measure after the first and correct the cutter")


def _bringing(recipe: Recipe, faces: set[int]) -> list[Operation]:
    """Operations that bring some of the faces to size: of each face the last that claims it."""
    last = {face: op.id for op in recipe.operations for face in op.faces if face in faces}
    return [op for op in recipe.operations if op.id in set(last.values())]


def _say(recipe: Recipe, feature: Feature, code: str, text: str) -> None:
    recipe.findings.append(
        Finding(code=code, severity="warning", message=f"{feature.id}: {text}", features=[feature.id])
    )
