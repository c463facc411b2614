"""What opens on the floor of something else in the same setup, whichever of its ends the document names first."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from planner.drafts import EASING, Draft, acyclic
from planner.precedence import leads_to
from planner.problem import Problem
from planner.proof.plane import Plane, plane_of
from shared.features import HOLE_KINDS, Feature, View

LAST_IN_HOLE = ("ream", "tap")
"""First words of operations that come after a hole's mouth is chamfered."""
LEVEL = 0.05
"""Mm that a mouth may lie off the floor that it opens on."""


def mouths(problem: Problem, works: list[str], direction: str) -> dict[str, list[str]]:
    """Work -> works of this setup whose floor its mouth lies on, to be cut before it.

    A hole that runs right through says `inside` for one of its ends only; drilled from the other end, it opens on what
    is there.
    """
    views = {name: problem.works[name].ways[direction].view for name in works if direction in problem.works[name].ways}
    plane = plane_of(np.array(problem.directions[direction]))
    regions = {name: _region(view, plane) for name, view in views.items()}
    out: dict[str, list[str]] = {}
    for name, view in views.items():
        if not view.outline:
            continue
        middle = shapely.centroid(regions[name])
        out[name] = [
            other
            for other, floor in views.items()
            if other != name
            and abs(floor.bottom - view.top) < LEVEL
            and floor.top > view.top + LEVEL
            and regions[other].intersects(middle)
        ]
    return {name: found for name, found in out.items() if found}


def eased(problem: Problem, works: list[str]) -> dict[str, list[str]]:
    """Chamfer or round -> works of this setup whose edge it eases, to be cut before it: their finished edge is eased.

    Holes are left out here: of theirs some operations come before and some after (see after_chamfers).
    """
    here = set(works)
    out = {}
    for name in works:
        feature = problem.works[name].feature
        if feature.kind in EASING:
            out[name] = [
                p for p in feature.inside if p in here and problem.works[p].feature.kind not in (*EASING, *HOLE_KINDS)
            ]
    return {name: found for name, found in out.items() if found}


def after_chamfers(drafts: list[Draft], features: dict[str, Feature]) -> None:
    """At the mouth of a hole: drilled, then chamfered, then reamed or tapped, as a burr would spoil bore and thread."""
    known = {d.key: set(d.after) for d in drafts}
    for chamfer in [d for d in drafts if d.features and features[d.features[0]].kind in EASING]:
        holes = {p for p in features[chamfer.features[0]].inside if p in features and features[p].kind in HOLE_KINDS}
        for draft in drafts if holes else []:
            if draft.slot != chamfer.slot or not holes & set(draft.features):
                continue
            if draft.operation.name.split()[0] in LAST_IN_HOLE:
                draft.after.add(chamfer.key)
                chamfer.after.discard(draft.key)
            else:
                chamfer.after.add(draft.key)
    if not acyclic(drafts):  # a hole that opens on the chamfer itself
        for draft in drafts:
            draft.after = known[draft.key]


def with_mouths(parents: dict[str, list[str]], found: dict[str, list[str]]) -> dict[str, list[str]]:
    """Parents with those found added, but for any that would close a circle."""
    out = {name: list(before) for name, before in parents.items()}
    for name, before in found.items():
        for parent in before:
            if parent not in out.get(name, []) and not leads_to(out, parent, name):
                out.setdefault(name, []).append(parent)
    return out


def _region(view: View, plane: Plane) -> BaseGeometry:
    """What the view's outer rings enclose."""
    rings = [shapely.Polygon(plane.flat(np.array(ring))).buffer(0) for ring in view.outline if len(ring) > 2]
    return shapely.union_all(rings)
