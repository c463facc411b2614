"""Patterns of equal holes: circular, rectangular or general (ISO 14649-10 replicate features)."""

from __future__ import annotations

from collections import defaultdict
from math import hypot

from recognizer.outline import Plane2
from shared.features import HOLE_KINDS, Feature, Pattern

EPS_MM = 0.02


def patterns_of(features: list[Feature]) -> tuple[list[Feature], list[Pattern]]:
    """Features with `pattern` set, and the patterns: two or more equal holes that open in one direction at one level."""
    groups: dict[tuple[object, ...], list[Feature]] = defaultdict(list)
    for f in features:
        if f.kind in HOLE_KINDS and f.views:
            v = f.views[0]
            sizes = tuple((k, round(x, 2)) for k, x in sorted(f.dimensions.items()))
            groups[
                (f.kind, sizes, tuple(round(c, 4) for c in v.direction), round(v.top, 2), f.bottom_condition)
            ].append(f)
    patterns, name_of = [], {}
    for equal in groups.values():
        if len(equal) < 2:
            continue
        kind, why = _arrangement(equal)
        name = f"pattern-{equal[0].id.split('-', 1)[1]}"
        patterns.append(Pattern(id=name, kind=kind, features=[f.id for f in equal], because=[why]))  # type: ignore[arg-type]
        name_of.update({f.id: name for f in equal})
    return [f.model_copy(update={"pattern": name_of.get(f.id)}) for f in features], patterns


def _arrangement(equal: list[Feature]) -> tuple[str, str]:
    plane = Plane2(equal[0].views[0].direction)
    points = sorted(plane.at(f.axis.origin) for f in equal if f.axis)
    circle = _bolt_circle(points)
    if circle is not None and len(points) != 4:
        return "circular", f"{len(points)} equal holes on a circle of diameter {2 * circle:.4g} mm"
    if _grid(points):
        return "rectangular", f"{len(points)} equal holes on a grid"
    if circle is not None:
        return "circular", f"{len(points)} equal holes on a circle of diameter {2 * circle:.4g} mm"
    return "general", f"{len(points)} equal holes in no regular order"


def _bolt_circle(points: list[tuple[float, float]]) -> float | None:
    """Radius of the circle on which all points lie evenly, or None; three points or more."""
    if len(points) < 3:
        return None
    cx, cy = sum(p[0] for p in points) / len(points), sum(p[1] for p in points) / len(points)
    radii = [hypot(p[0] - cx, p[1] - cy) for p in points]
    return radii[0] if max(radii) - min(radii) < EPS_MM else None


def _grid(points: list[tuple[float, float]]) -> bool:
    """Whether the points fill a rows-by-columns grid along some pair of square directions."""
    if len(points) == 2:
        return True
    a = points[0]
    for b in points[1:]:
        size = hypot(b[0] - a[0], b[1] - a[1])
        t = ((b[0] - a[0]) / size, (b[1] - a[1]) / size)
        us = {round((p[0] * t[0] + p[1] * t[1]) / EPS_MM / 5) for p in points}
        vs = {round((p[1] * t[0] - p[0] * t[1]) / EPS_MM / 5) for p in points}
        if len(us) * len(vs) == len(points):
            return True
    return False
