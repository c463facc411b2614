"""A cadquery solid -> features document, without a file."""

from __future__ import annotations

from typing import Any

from recognizer.kernel.snapshot import snapshot_of
from recognizer.pipeline import recognize_snapshot
from shared.features import Feature, FeaturesDocument


def document_of(work: Any) -> FeaturesDocument:
    """Document of a cadquery workplane's one solid."""
    return recognize_snapshot(snapshot_of(work.val().wrapped))


def volumes(document: FeaturesDocument, kind: str) -> list[float]:
    """Removal volumes of the features of a kind, ascending."""
    return sorted(f.removal_volume for f in document.features if f.kind == kind)


def named(document: FeaturesDocument, kind: str) -> list[Feature]:
    """Features of a kind."""
    return [f for f in document.features if f.kind == kind]
