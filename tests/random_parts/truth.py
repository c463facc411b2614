"""What a part must be recognised as, known from how it was made, and how a document differs from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from shared.features import Feature, FeaturesDocument
from shared.units import Vector

IGNORED = ("planar_face", "outside_profile")
"""What is left of the block; compared only where a case expects it."""
LENGTH_MM = 0.01
SHARE = 2e-3
GAP_SHARE = 0.01
"""A gap between curved walls may be found along chords, so a little too narrow: that is the safe side."""
DEGREES = 0.1


@dataclass(frozen=True)
class Expected:
    """One feature that was cut.

    kinds: the names that fit, the preferred one first. directions: must be reachable from these, may be from `also`
    and from what lies within `leaning` degrees of a direction, and from nothing else. dimensions: lengths mm, angles
    degrees, see `measured`. volume: mm3 that it alone took away. at: a point on a hole's axis. optional: another
    reading has it as a part of a neighbour.
    """

    kinds: tuple[str, ...]
    directions: tuple[Vector, ...] = ()
    also: tuple[Vector, ...] = ()
    bottom_condition: str | None = None
    dimensions: dict[str, float] = field(default_factory=dict)
    diameters: tuple[float, ...] = ()
    profile: str | None = None
    volume: float | None = None
    at: Vector | None = None
    leaning: float = 0.0
    optional: bool = False

    def moved(self, matrix: np.ndarray, shift: np.ndarray, factor: float = 1.0) -> Expected:
        """The same after x -> factor * matrix @ x + shift; matrix (3, 3) orthogonal, a mirror too."""
        turn = lambda d: _vector(matrix @ np.array(d))  # noqa: E731
        angles = {"angle", "draft", "islands", "open_sides", "inside"}
        return replace(
            self,
            directions=tuple(map(turn, self.directions)),
            also=tuple(map(turn, self.also)),
            dimensions={k: v if k in angles else v * factor for k, v in self.dimensions.items()},
            diameters=tuple(d * factor for d in self.diameters),
            volume=None if self.volume is None else self.volume * factor**3,
            at=None if self.at is None else _vector(factor * matrix @ np.array(self.at) + shift),
        )


def measured(feature: Feature, name: str, kinds: Mapping[str, str]) -> Any:
    """Value of a dimension in the document: of a view, of a hole's steps, or by its own name in `dimensions`.

    kinds: kind of each feature by id; being inside a face of the block does not count.
    """
    view = feature.views[0] if feature.views else None
    if name == "inside":
        return float(sum(kinds[i] not in IGNORED for i in feature.inside))
    if name == "draft":
        return max((s.draft for s in view.sides if not s.open), default=None) if view else None
    if name == "angle":
        return next((s.angle for s in feature.steps if s.angle is not None), None)
    if view is not None and name in type(view).model_fields:
        return view[name]
    return feature.dimensions.get(name)


def problems(expected: Expected, found: Feature, kinds: Mapping[str, str]) -> list[str]:
    """How one feature differs from what was cut; empty where it does not."""
    wrong = []
    if found.kind not in expected.kinds:
        wrong.append(f"kind {found.kind}, not {' or '.join(expected.kinds)}")
    for name in ("bottom_condition", "profile"):
        wanted = getattr(expected, name)
        if wanted is not None and getattr(found, name) != wanted:
            wrong.append(f"{name} {getattr(found, name)}, not {wanted}")
    for name, value in expected.dimensions.items():
        seen = measured(found, name, kinds)
        if not _equal(seen, value, _tolerance(name, value)):
            wrong.append(f"{name} {_short(seen)}, not {value:.3f}")
    wrong += _diameters(expected, found) + _directions(expected, found)
    if expected.volume is not None and not _equal(found.removal_volume, expected.volume, SHARE * expected.volume):
        wrong.append(f"removal_volume {found.removal_volume:.2f}, not {expected.volume:.2f}")
    if expected.at is not None and not _on_axis(found, expected.at):
        wrong.append(f"axis does not pass through {np.round(expected.at, 3).tolist()}")
    return wrong


def differences(document: FeaturesDocument, expected: list[Expected]) -> list[str]:
    """Everything in which a document differs from the truth; empty means exactly right."""
    wanted_kinds = {k for e in expected for k in e.kinds}
    kinds = {f.id: f.kind for f in document.features}
    found = [f for f in document.features if f.kind not in IGNORED or f.kind in wanted_kinds]
    pairs = sorted(
        (len(problems(e, f, kinds)) + 3 * (f.kind not in e.kinds), i, j)
        for i, e in enumerate(expected)
        for j, f in enumerate(found)
    )
    match: dict[int, int] = {}
    for _, i, j in pairs:
        if i not in match and j not in match.values():
            match[i] = j
    said = []
    for i, e in enumerate(expected):
        if i not in match and not e.optional:
            said.append(f"missing: {e.kinds[0]} {e.dimensions or e.diameters or ''}")
        if i not in match:
            continue
        f = found[match[i]]
        said += [f"{e.kinds[0]} ({f.id}): {p}" for p in problems(e, f, kinds)]
    extra = [f for j, f in enumerate(found) if j not in match.values()]
    said += [f"extra: {f.kind} {f.id} faces {f.faces}" for f in extra]
    unclaimed = [f.index for f in document.faces if f.feature is None and not f.reason]
    return said + ([f"faces {unclaimed} have neither a feature nor a reason"] if unclaimed else [])


def _diameters(expected: Expected, found: Feature) -> list[str]:
    if not expected.diameters:
        return []
    seen = [s.diameter for s in found.steps if s.surface == "cylinder" or s.angle is not None and s.end_diameter > 0]
    same = len(seen) == len(expected.diameters) and all(
        _equal(a, b, LENGTH_MM) for a, b in zip(seen, expected.diameters, strict=True)
    )
    return [] if same else [f"diameters {np.round(seen, 3).tolist()}, not {np.round(expected.diameters, 3).tolist()}"]


def _directions(expected: Expected, found: Feature) -> list[str]:
    seen = [v.direction for v in found.views if v.reachable]
    lost = [d for d in expected.directions if not any(_parallel(d, s) for s in seen)]
    leaning = expected.leaning + DEGREES
    allowed = [(d, leaning) for d in expected.directions] + [(d, DEGREES) for d in expected.also]
    extra = [s for s in seen if not any(_parallel(s, d, degrees) for d, degrees in allowed)]
    wrong = [f"not reachable from {_rounded(d)}" for d in lost]
    return wrong + [f"reachable from {_rounded(d)}, which it is not" for d in extra]


def _on_axis(found: Feature, point: Vector) -> bool:
    if found.axis is None:
        return False
    away = np.array(point) - np.array(found.axis.origin)
    return float(np.linalg.norm(np.cross(away, np.array(found.axis.direction)))) < LENGTH_MM


def _parallel(a: Vector, b: Vector, degrees: float = DEGREES) -> bool:
    return float(np.dot(a, b)) > np.cos(np.radians(degrees))


def _tolerance(name: str, value: float) -> float:
    if name in ("angle", "draft"):
        return DEGREES
    return GAP_SHARE * value if name == "narrowest_gap" else LENGTH_MM


def _equal(value: Any, wanted: float, tolerance: float) -> bool:
    return value is not None and abs(float(value) - wanted) <= tolerance + 1e-6 * abs(wanted)


def _rounded(d: Vector) -> list[float]:
    return (np.round(d, 3) + 0.0).tolist()


def _short(value: Any) -> str:
    return "unknown" if value is None else f"{value:.3f}"


def _vector(a: np.ndarray) -> Vector:
    return (float(a[0]), float(a[1]), float(a[2]))
