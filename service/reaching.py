"""What `sidewise reach` does: options understood, the part read and judged in the worker."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from pathlib import Path

from pydantic import ValidationError

from service.progress import Progress
from service.worker import Limits, Worker, reach_json
from shared.errors import UsageError
from shared.reach import ReachDocument, ReachLimits
from shared.units import Vector

FROM_HINT = "Name sides of the file's axes, or vectors towards the tool: --from +z,-z or --from +z,1:0:1."
LIMITS_HINT = "Write names and numbers: --limits warn=5,fail=10. Names: warn, fail, drill_warn, drill_fail, share."


@dataclass(frozen=True)
class Asked:
    """The options as they were typed."""

    sides: str = ""
    tools: str = ""
    cutters: str = ""
    limits: str = ""
    axes: int = 3


def reach_of(part: str, solid: int | None, asked: Asked, limits: Limits) -> tuple[ReachDocument, str]:
    """The reach document of a STEP file, and its JSON text as the worker wrote it. Raises UsageError."""
    sides, lengths = directions_from(asked.sides), limits_from(asked.limits)
    if asked.tools:
        from shared.cutters import load_cutters

        load_cutters(asked.tools)  # a wrong file is refused before the part is read
    ids = [name.strip() for name in asked.cutters.split(",") if name.strip()]
    with Worker(limits) as worker, Progress(f"Reading {Path(part).name}"):
        task = worker.start(reach_json, part, solid, sides, asked.tools or None, ids, lengths.to_json(), asked.axes)
        text = task.result()
    return ReachDocument.from_json(text), text


def directions_from(text: str) -> list[Vector]:
    """Unit vectors of '+z,-x,1:0:1'; none for an empty text. Raises UsageError."""
    return [_direction(piece.strip()) for piece in text.split(",") if piece.strip()]


def _direction(text: str) -> Vector:
    if len(text) == 2 and text[0] in "+-" and text[1] in "xyz":
        sign = 1.0 if text[0] == "+" else -1.0
        x, y, z = (sign if name == text[1] else 0.0 for name in "xyz")
        return (x, y, z)
    try:
        x, y, z = (float(piece) for piece in text.split(":"))
        size = sqrt(x * x + y * y + z * z)
        return (x / size, y / size, z / size)
    except (ValueError, ZeroDivisionError):
        raise UsageError(f"'{text}' is no direction.", FROM_HINT, "--from") from None


def limits_from(text: str) -> ReachLimits:
    """Limits of 'warn=5,fail=10'; those not named keep their defaults. Raises UsageError."""
    values: dict[str, str] = {}
    for piece in (p.strip() for p in text.split(",") if p.strip()):
        name, equals, value = (p.strip() for p in piece.partition("="))
        if not equals:
            raise UsageError(f"'{piece}' is no limit.", LIMITS_HINT, "--limits")
        values[name] = value
    try:
        return ReachLimits.model_validate(values)
    except ValidationError as error:
        first = error.errors()[0]
        name = ".".join(str(p) for p in first["loc"])
        raise UsageError(f"{name}: {first['msg']}", LIMITS_HINT, "--limits") from None
