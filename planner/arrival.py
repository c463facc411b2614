"""A features document on arrival: what the planner relies on and the schema cannot say. Anyone may have written it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator

from shared.errors import UsageError
from shared.features import SCHEMA, FeaturesDocument, View
from shared.units import Vector

FEATURES_HINT = "give what `sidewise features` wrote"
UNIT = 1e-4
"""How far a direction's length may be off one."""


def check_document(document: FeaturesDocument) -> None:
    """Raises UsageError with the first thing that is wrong."""
    fault = next(_faults(document), None)
    if fault:
        raise UsageError(f"the features document cannot be used: {fault}", FEATURES_HINT, "features")


def _faults(document: FeaturesDocument) -> Iterator[str]:
    if document.schema_ != SCHEMA:
        yield f"its schema is {document.schema_!r}, not {SCHEMA!r}"
    twice = [name for name, count in Counter(f.id for f in document.features).items() if count > 1]
    if twice:
        yield f"several features are called {twice[0]}"
    frame, box = document.part.frame, document.part.frame_box
    if len(frame) != 3 or any(
        abs(_dot(a, b) - (i == k)) > UNIT for i, a in enumerate(frame) for k, b in enumerate(frame)
    ):
        yield "part.frame is not three unit vectors square to each other"
    if not all(low < high and math.isfinite(high - low) for low, high in zip(box.min, box.max, strict=True)):
        yield "part.frame_box is empty or not finite"
    for feature in document.features:
        for k, view in enumerate(feature.views):
            if view.reachable and not _sound(view):
                yield f"view {k} of {feature.id} has a direction that is no unit vector, or levels that are no levels"


def _sound(view: View) -> bool:
    levels = (view.top, view.bottom, view.depth)
    return abs(_dot(view.direction, view.direction) - 1.0) <= UNIT and all(map(math.isfinite, levels))


def _dot(a: Vector, b: Vector) -> float:
    return sum(x * y for x, y in zip(a, b, strict=True))
