"""The examples of the OpenAPI document, made again from a plate with a hole: `python -m tests.http.examples`."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path
from typing import Any

import cadquery as cq

from service.http.described import EXAMPLES
from service.study import Study, compare_text, quote_text, reach_text, study_part

MOST = 2
"""Entries that stay of a list of things; points, sizes and names stay whole."""


def main() -> None:
    """Writes them."""
    for name, text in documents().items():
        (EXAMPLES / f"{name}.json").write_text(
            json.dumps(shortened(json.loads(text)), indent=1) + "\n", encoding="utf-8"
        )


def documents() -> dict[str, str]:
    """Each document whole, as JSON text."""
    old, new = _step(6), _step(8)
    study = Study('{"stock": 2, "axes": 3}')
    made = study_part(old, "plate_a.step", study)
    after = study_part(new, "plate_b.step", study)
    made["reach"] = reach_text(old, "plate_a.step", None)
    made["quote"] = quote_text(made["features"], made["plan"], (1, 10, 100))
    made["compare"] = compare_text((made["features"], made["plan"]), (after["features"], after["plan"]))
    return made


def _step(diameter: float) -> bytes:
    plate = cq.Workplane().box(60, 40, 10, centered=False).faces(">Z").workplane(origin=(30, 20)).hole(diameter)
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch) / "plate.step"
        cq.exporters.export(plate, str(path))
        return path.read_bytes()


def shortened(value: Any) -> Any:
    """The same with lists of things cut short."""
    if isinstance(value, dict):
        return {name: shortened(v) for name, v in value.items()}
    if isinstance(value, list):
        things = any(isinstance(v, dict) for v in value)
        return [shortened(v) for v in (value[:MOST] if things else value)]
    return value


if __name__ == "__main__":
    main()
