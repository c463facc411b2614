"""Documents to and from JSON: one form, byte for byte the same for the same content."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from json.encoder import encode_basestring
from math import isfinite
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
        return _text(self.model_dump(mode="json"), 0) + "\n"

    @classmethod
    def from_json(cls, text: str | bytes) -> Self:
        """The document in `text`. Raises pydantic.ValidationError naming each wrong field's path."""
        return cls.model_validate_json(text)


DECIMALS = 6
"""Decimals kept in documents: 1e-6 mm is below any file's accuracy, and hides the last bits' noise."""


def _number(value: float) -> str:
    if not isfinite(value):
        raise ValueError(f"{value} is no number that JSON can say")
    return repr(round(value, DECIMALS) + 0.0)  # + 0.0 turns -0.0 into 0.0


_SCALARS: dict[type, Callable[[Any], str]] = {
    float: _number,
    str: encode_basestring,
    int: repr,
    bool: lambda v: "true" if v else "false",
    type(None): lambda v: "null",
}


def _text(value: Any, depth: int) -> str:
    """JSON text of what `model_dump(mode="json")` gives."""
    kind = type(value)
    if kind in _SCALARS:
        return _SCALARS[kind](value)
    if kind is dict and value:
        pad = "  " * (depth + 1)
        rows = [f"{pad}{encode_basestring(k)}: {_text(v, depth + 1)}" for k, v in value.items()]
        return "{\n" + ",\n".join(rows) + "\n" + pad[2:] + "}"
    if kind is list and any(type(v) is dict for v in value):
        pad = "  " * (depth + 1)
        return "[\n" + ",\n".join(pad + _text(v, depth + 1) for v in value) + "\n" + pad[2:] + "]"
    return _line(value)


def _line(value: Any) -> str:
    """The same on one line."""
    kind = type(value)
    if kind in _SCALARS:
        return _SCALARS[kind](value)
    if kind is dict:
        return "{" + ", ".join(f"{encode_basestring(k)}: {_line(v)}" for k, v in value.items()) + "}"
    return "[" + ", ".join(map(_line, value)) + "]"
