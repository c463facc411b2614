"""Compare a features document with the record that a part's script wrote while it cut the part.

The truth is the record: dimensions as the script asked for them, kinds, sides and directions by construction (the
rules stand in models/cutting/__init__.py). Nothing here was taken from what the recognizer says.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import models
from shared.features import Feature, FeaturesDocument

FOLDER = Path(models.__file__).parent
LENGTH = 0.01  # mm; also degrees of an angle
DIRECTION = 1e-4


@cache
def record_of(part: str) -> dict[str, Any]:
    """The record of a demo part."""
    record: dict[str, Any] = json.loads((FOLDER / f"{part}.json").read_text(encoding="utf-8"))
    return record


@cache
def recognized(part: str) -> FeaturesDocument:
    """What the recognizer says of a demo part."""
    from recognizer import recognize

    return recognize(FOLDER / f"{part}.step")


def cuts(part: str) -> list[dict[str, Any]]:
    """The record's features, an entry of n equal ones n times."""
    return [entry for entry in record_of(part)["features"] for _ in range(entry["count"])]


def differences(cut: dict[str, Any], feature: Feature) -> list[str]:
    """What the feature says otherwise than the record; empty if they agree."""
    found = []
    if cut["kind"] != feature.kind:
        found.append(f"kind {feature.kind}")
    for key, value in cut["dimensions"].items():
        said = feature.dimensions.get(key)
        if said is None or abs(said - value) > LENGTH:
            found.append(f"{key} {said} instead of {value}")
    if "bores" in cut and not _same_bores(cut["bores"], feature):
        found.append(f"steps {[(s.diameter, s.top, s.bottom) for s in feature.steps]} instead of {cut['bores']}")
    # A flat side can be milled as a wall from beside as well; the record says from where it is faced.
    beside = "outside_profile" if feature.kind == "planar_face" else None
    seen = [view.direction for view in feature.views if view.reachable and view.kind != beside]
    if not _same_directions(cut["directions"], seen):
        found.append(f"directions {_short(seen)} instead of {_short(cut['directions'])}")
    for key in ("open_sides", "closed_sides", "bottom_condition"):
        if cut[key] is not None and getattr(feature, key) != cut[key]:
            found.append(f"{key} {getattr(feature, key)} instead of {cut[key]}")
    return found


def _same_bores(bores: list[list[float]], feature: Feature) -> bool:
    """Diameters and the depth below the mouth at which each ends."""
    cylinders = [step for step in feature.steps if step.surface == "cylinder"]
    if len(cylinders) != len(bores):
        return False
    mouth = cylinders[0].top
    said = [(step.diameter, mouth - step.bottom) for step in cylinders]
    return all(
        abs(diameter - want) <= LENGTH and abs(end - depth) <= LENGTH
        for (diameter, end), (want, depth) in zip(said, bores, strict=True)
    )


def _same_directions(wanted: list[Any], seen: list[Any]) -> bool:
    """The same set of unit vectors."""

    def near(a: Any, b: Any) -> bool:
        return max(abs(p - q) for p, q in zip(a, b, strict=True)) < DIRECTION

    return (
        len(wanted) == len(seen)
        and all(any(near(a, b) for b in seen) for a in wanted)
        and all(any(near(a, b) for a in wanted) for b in seen)
    )


def _short(vectors: list[Any]) -> list[tuple[float, ...]]:
    return [tuple(round(value, 3) + 0.0 for value in vector) for vector in vectors]


def unmatched(wanted: list[dict[str, Any]], features: list[Feature]) -> tuple[list[str], list[Feature]]:
    """Complaints about cuts that no feature matches, and the features that match no cut.

    Each complaint names the nearest feature left over (fewest differences, same kind first).
    """
    left = list(features)
    missed = []
    for cut in wanted:
        match = next((feature for feature in left if not differences(cut, feature)), None)
        if match is None:
            missed.append(cut)
        else:
            left.remove(match)
    complaints = []
    for cut in missed:
        nearest = min(left, key=lambda f: (f.kind != cut["kind"], len(differences(cut, f))), default=None)
        what = f"but {nearest.id} says: " + "; ".join(differences(cut, nearest)) if nearest else "nothing is left"
        complaints.append(f"{cut['name']}: cut as {cut['kind']} {cut['dimensions']}, {what}")
    return complaints, left
