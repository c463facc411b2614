"""How answers are described in the OpenAPI document: the documents' own schemas, with shortened examples."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from service.run import DOCUMENTS

EXAMPLES = Path(__file__).parent / "examples"
"""A document of each kind, of a plate with a hole, with most of its lists cut short: `python -m tests.http.examples`."""
NOT_MODIFIED: dict[int | str, dict[str, Any]] = {304: {"description": "Not modified: you have it already"}}


def json_document(name: str) -> dict[int | str, dict[str, Any]]:
    """OpenAPI of an answer that is one of the documents."""
    example = {"summary": "of a plate with a hole, lists cut short", "value": example_of(name)}
    content = {"application/json": {"examples": {"shortened": example}}}
    return {200: {"description": f"The {name} document", "model": DOCUMENTS[name], "content": content}}


def example_of(name: str) -> Any:
    """The example of a document."""
    return json.loads((EXAMPLES / f"{name}.json").read_text(encoding="utf-8"))


def binary(media_type: str) -> dict[str, Any]:
    """OpenAPI of an answer that is bytes."""
    return {"description": "The bytes", "content": {media_type: {"schema": {"type": "string", "format": "binary"}}}}
