"""What lies at the far end of a cut that runs right through need not be there first: it opens the cut when it comes.

A hole drilled through from above is as good where the face below is faced afterwards, or a pocket opens it from there.
From its other end the same face is the mouth, and comes before. So what comes before depends on the side.
"""

from __future__ import annotations

from planner.stock import dot
from planner.work import Work
from shared.features import Feature, FeaturesDocument, View

LEVEL = 0.02
"""Mm that what lies at the far end may reach over it: chords and tolerances."""


def by_side(
    document: FeaturesDocument, works: dict[str, Work], parents: dict[str, list[str]]
) -> tuple[dict[str, list[str]], dict[str, dict[str, list[str]]]]:
    """Parents that bind from every side, and those that bind from some: work -> direction -> works."""
    always: dict[str, list[str]] = {}
    sides: dict[str, dict[str, list[str]]] = {}
    for name, before in parents.items():
        work = works[name]
        always[name] = []
        for parent in before:
            feature = works[parent].feature
            binds = [d for d, way in work.ways.items() if work.follows or not beyond(document, feature, way.view)]
            if len(binds) == len(work.ways):
                always[name].append(parent)
            for d in binds if parent not in always[name] else []:
                sides.setdefault(name, {}).setdefault(d, []).append(parent)
    return always, sides


def beyond(document: FeaturesDocument, parent: Feature, view: View) -> bool:
    """Whether all of a parent lies at or behind the far end of a cut that runs right through."""
    if not view.through or not parent.faces:
        return False
    boxes = {f.index: f.box for f in document.faces}
    share = [dot(axis, view.direction) for axis in document.part.frame]
    for box in map(boxes.get, parent.faces):
        if box is None:
            return False
        top = sum(max(s * low, s * high) for s, low, high in zip(share, box.min, box.max, strict=True))
        if top > view.bottom + LEVEL:
            return False
    return True
