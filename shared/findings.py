"""Coded notes: what was noticed, which faces and features, and what to do about it."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from shared.wire import Document


class Finding(Document):
    """One note. `code` is stable and snake_case; `message` says it in plain words with figures."""

    code: str
    severity: Literal["error", "warning", "note"] = "note"
    message: str
    hint: str = ""
    faces: list[int] = Field(default_factory=list)
    features: list[str] = Field(default_factory=list)
