"""Texts of a document for people who think in inches: its reasons and findings speak mm, and lengths are given in both."""

from __future__ import annotations

import re
from typing import Any, TypeVar

from pydantic import BaseModel

from shared.units import inches

Document = TypeVar("Document", bound=BaseModel)
SAID = ("because", "message", "hint", "reason", "witness")
"""Fields that hold sentences."""
LENGTH = re.compile(r"(?<![\w.])(-?\d+(?:\.\d+)?) mm(?![\w/])")
"""A length in mm with its unit; areas, volumes and feeds are none."""


def in_both(text: str) -> str:
    """The text with inches behind each length: '20 mm' becomes '20 mm (0.7874 in)'."""
    return LENGTH.sub(lambda found: f"{found[0]} ({inches(float(found[1])):.4g} in)", text)


def spoken(document: Document, *, inch: bool) -> Document:
    """The document with inches in its sentences, a copy; itself where it is not read in inches."""
    return type(document).model_validate(_said(document.model_dump(by_alias=True))) if inch else document


def _said(value: Any, said: bool = False) -> Any:
    if isinstance(value, dict):
        return {key: _said(item, key in SAID) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_said(item, said) for item in value]
    return in_both(value) if said and isinstance(value, str) else value
