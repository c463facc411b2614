"""Documents to and from JSON: one form, byte for byte the same for the same content."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from json.encoder import encode_basestring
from math import isfinite
from typing import Any, Self

from pydantic import BaseModel, ConfigDict
from pydantic_core import to_jsonable_python


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
        return _document(self, "") + "\n"

    @classmethod
    def from_json(cls, text: str | bytes) -> Self:
        """The document in `text`. Raises pydantic.ValidationError naming each wrong field's path."""
        return cls.model_validate_json(text)


DECIMALS = 6
"""Decimals kept in documents: 1e-6 mm is below any file's accuracy, and hides the last bits' noise."""
_PLAIN = 1e-4, 1e9
"""Between these sizes repr() of a rounded number has no exponent, and its digits are those of formatting with decimals."""
_KEPT = 50_000
"""Numbers whose texts are kept: documents name the same points and directions again and again."""
_STEP = "  "


class _Numbers(dict[float, str]):
    """Texts of numbers, made on first use."""

    def __missing__(self, value: float) -> str:
        if _PLAIN[0] < abs(value) < _PLAIN[1]:
            text = f"{value:.{DECIMALS}f}".rstrip("0")
            text = text + "0" if text[-1] == "." else text
        elif isfinite(value):
            text = repr(round(value, DECIMALS) + 0.0)  # + 0.0 turns -0.0 into 0.0
        else:
            raise ValueError(f"{value} is no number that JSON can say")
        if len(self) >= _KEPT:
            self.clear()
        self[value] = text
        return text


_numbers = _Numbers()


def _document(value: Document, pad: str) -> str:
    """An object with a row for each field; `pad` is the indentation of the row that it begins in."""
    deeper, fields = pad + _STEP, value.__dict__
    rows = [
        head + (_numbers[v] if type(v := fields[name]) is float else _WRITERS[type(v)](v, deeper))  # most are numbers
        for name, head in _heads(type(value), deeper)
    ]
    return "{\n" + ",\n".join(rows) + "\n" + pad + "}"


@cache
def _heads(kind: type[Document], pad: str) -> list[tuple[str, str]]:
    """Names of a document's fields, and the text before each one's value."""
    fields = kind.model_fields.items()
    return [(name, f"{pad}{encode_basestring(f.serialization_alias or name)}: ") for name, f in fields]


def _mapping(value: dict[str, Any], pad: str) -> str:
    if not value:
        return "{}"
    deeper = pad + _STEP
    rows = [f"{deeper}{encode_basestring(k)}: {_WRITERS[type(v)](v, deeper)}" for k, v in value.items()]
    return "{\n" + ",\n".join(rows) + "\n" + pad + "}"


def _list(value: list[Any] | tuple[Any, ...], pad: str) -> str:
    """All on one line, but for objects, each of which begins a row."""
    if not value:
        return "[]"
    kinds = set(map(type, value))
    if kinds == {float}:
        return "[" + ", ".join([_numbers[v] for v in value]) + "]"
    if not any(k is dict or issubclass(k, Document) for k in kinds):
        return "[" + ", ".join([_WRITERS[type(v)](v, pad) for v in value]) + "]"
    deeper = pad + _STEP
    rows = [deeper + _WRITERS[type(v)](v, deeper) for v in value]
    return "[\n" + ",\n".join(rows) + "\n" + pad + "]"


class _Writers(dict[type, Callable[[Any, str], str]]):
    """How each type is written; documents of every class alike, what else turns up as pydantic would write it."""

    def __missing__(self, kind: type) -> Callable[[Any, str], str]:
        self[kind] = _document if issubclass(kind, Document) else _other
        return self[kind]


def _other(value: Any, pad: str) -> str:
    plain = to_jsonable_python(value)
    return _WRITERS[type(plain)](plain, pad)


def _float(value: float, pad: str) -> str:
    return _numbers[value]


def _string(value: str, pad: str) -> str:
    return encode_basestring(value)


def _bool(value: bool, pad: str) -> str:
    return "true" if value else "false"


_WRITERS = _Writers(
    {
        float: _float,
        str: _string,
        int: lambda v, pad: repr(v),
        bool: _bool,
        type(None): lambda v, pad: "null",
        dict: _mapping,
        list: _list,
        tuple: _list,
    }
)
