"""Documents to and from JSON: one form, byte for byte the same for the same content."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any, Self

from pydantic import BaseModel, ConfigDict


class Document(BaseModel):
    """A part of a document. Fields are read as attributes or like a mapping: `feature.kind`, `feature["kind"]`."""

    model_config = ConfigDict(extra="forbid", populate_by_name=True, serialize_by_alias=True)

    def __getitem__(self, name: str) -> Any:
        field = "schema_" if name == "schema" else name  # pydantic reserves the plain name
        if field not in type(self).model_fields:
            raise KeyError(name)
        return getattr(self, field)

    def __contains__(self, name: object) -> bool:
        return name == "schema" or name in type(self).model_fields

    def get(self, name: str, default: Any = None) -> Any:
        """Value of a field, or `default` where the document has no such field."""
        return self[name] if name in self else default

    def keys(self) -> Iterator[str]:
        """Names of the fields, in document order."""
        return iter(type(self).model_fields)

    def to_json(self) -> str:
        """JSON text with two-space indents; lists of plain numbers stay on one line; ends with a newline."""
        return _text(_rounded(self.model_dump(mode="json")), 0) + "\n"

    @classmethod
    def from_json(cls, text: str | bytes) -> Self:
        """The document in `text`. Raises pydantic.ValidationError naming each wrong field's path."""
        return cls.model_validate_json(text)


DECIMALS = 6
"""Decimals kept in documents: 1e-6 mm is below any file's accuracy, and hides the last bits' noise."""


def _rounded(value: Any) -> Any:
    if isinstance(value, float):
        return round(value, DECIMALS) + 0.0  # + 0.0 turns -0.0 into 0.0
    if isinstance(value, list):
        return [_rounded(v) for v in value]
    if isinstance(value, dict):
        return {k: _rounded(v) for k, v in value.items()}
    return value


def _text(value: Any, depth: int) -> str:
    pad, close = "  " * (depth + 1), "  " * depth
    if isinstance(value, dict) and value:
        rows = [f"{pad}{json.dumps(k, ensure_ascii=False)}: {_text(v, depth + 1)}" for k, v in value.items()]
        return "{\n" + ",\n".join(rows) + "\n" + close + "}"
    if isinstance(value, list) and any(isinstance(v, dict) for v in value):
        return "[\n" + ",\n".join(pad + _text(v, depth + 1) for v in value) + "\n" + close + "]"
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
