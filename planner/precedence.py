"""What comes before what: what a feature opens on, as far as it lies at the mouth on the side that it is cut from.

A hole drilled through from above is as good where the face below is faced afterwards, or a pocket opens it from there.
From its other end the same face is the mouth, and comes before: else the drill's rapid ends in solid material.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from planner.drafts import EASING
from planner.stock import dot
from planner.work import Work
from shared.features import HOLE_KINDS, Box, Feature, FeaturesDocument, View
from shared.findings import Finding

LEVEL = 0.02
"""Mm that what lies at the mouth may stay under it: chords and tolerances."""
RIM = 0.05
"""Share of a cut's depth under its top within which its rim may dip, as where it opens on a round wall."""
ALONG = 0.99
"""Share of an edge's length that it rises by if it lies along the cutter's axis."""
BESIDE = ("slot", "open_pocket", "step")
WALLED_ROUND = (*HOLE_KINDS, "closed_pocket")
"""Kinds with one mouth a side."""


@dataclass
class Precedence:
    """Work -> works before it from every side; work -> direction -> works that bind from there alone; links left out."""

    always: dict[str, list[str]] = field(default_factory=dict)
    sides: dict[str, dict[str, list[str]]] = field(default_factory=dict)
    cycles: list[Finding] = field(default_factory=list)


def precedence(document: FeaturesDocument, works: dict[str, Work]) -> Precedence:
    """What comes before each work. A link that would close a circle is left out, and said where the document asks for it."""
    out = Precedence({name: [] for name in works})
    every: dict[str, list[str]] = {name: [] for name in works}
    inside = _inside(document, works)
    mouthed = [name for name, work in works.items() if work.feature.kind in WALLED_ROUND]
    _add_inside(document, works, out, every, {name: inside[name] for name in mouthed})  # one mouth: there is no doubt
    _add_beside(document, works, out, every)
    _add_mouths(document, works, out, every)
    _add_inside(document, works, out, every, {name: inside[name] for name in works if name not in mouthed})
    return out


def _add_inside(
    document: FeaturesDocument,
    works: dict[str, Work],
    out: Precedence,
    every: dict[str, list[str]],
    inside: dict[str, list[str]],
) -> None:
    """Adds what the document says, for each side that it binds from."""
    for name, before in inside.items():
        for parent in before:
            binds = _binding(document, works, name, parent)
            if not binds:
                continue
            if leads_to(every, parent, name):
                out.cycles.append(_cycle(name, parent))
                continue
            every[name].append(parent)
            if len(binds) == len(works[name].ways):
                out.always[name].append(parent)
            for d in binds if parent not in out.always[name] else []:
                out.sides.setdefault(name, {}).setdefault(d, []).append(parent)


def _inside(document: FeaturesDocument, works: dict[str, Work]) -> dict[str, list[str]]:
    """What the document says: `inside`, passed on through features without operations. Facing waits for nothing."""
    inside = {f.id: f.inside for f in document.features}

    def planned(name: str, seen: frozenset[str]) -> list[str]:
        found: list[str] = []
        for parent in inside.get(name, []):
            if parent in works:
                found.append(parent)
            elif parent not in seen:
                found += planned(parent, seen | {parent})
        return found

    parents = {n: [p for p in dict.fromkeys(planned(n, frozenset({n}))) if p != n] for n in works}
    for name, work in works.items():
        if work.follows:
            parents[name] = [work.follows]
        if work.side:
            parents[name] = []
    return parents


def _binding(document: FeaturesDocument, works: dict[str, Work], name: str, parent: str) -> list[str]:
    """The directions from which a work waits for a parent."""
    work, feature = works[name], works[parent].feature
    rim = work.feature.kind in EASING and feature.kind in HOLE_KINDS  # a hole's mouth is eased from the hole
    return [d for d, way in work.ways.items() if work.follows or rim or not below_mouth(document, feature, way.view)]


def below_mouth(document: FeaturesDocument, other: Feature, view: View) -> bool:
    """Whether all of a feature lies below the mouth of another one as seen in a view: that one does not open on it there."""
    if not other.faces:
        return False
    boxes = {f.index: f.box for f in document.faces}
    share = [dot(axis, view.direction) for axis in document.part.frame]
    for box in map(boxes.get, other.faces):
        if box is None:
            return False
        if top_of(box, share) > view.top - LEVEL:
            return False
    return True


def _add_mouths(
    document: FeaturesDocument, works: dict[str, Work], out: Precedence, every: dict[str, list[str]]
) -> None:
    """Adds what a hole or a pocket walled all round opens on from each side, but for what would close a circle."""
    owner = {face: f.id for f in document.features for face in f.faces if f.id in works}
    eases = {f.id: f.inside for f in document.features if f.kind in EASING}
    for name, work in works.items():
        if work.feature.kind not in WALLED_ROUND or work.follows:
            continue
        for d, way in work.ways.items():
            known = out.always[name] + out.sides.get(name, {}).get(d, [])
            for parent in _opens_on(document, owner, work.feature, way.view):
                eased = work.feature.id in eases.get(parent, [])  # its mouth is eased afterwards
                if parent not in known and not eased and not leads_to(every, parent, name):
                    out.sides.setdefault(name, {}).setdefault(d, []).append(parent)
                    every[name].append(parent)


def _add_beside(
    document: FeaturesDocument, works: dict[str, Work], out: Precedence, every: dict[str, list[str]]
) -> None:
    """Adds the holes that a slot or an open pocket runs into along the same axis.

    A keyway has no other open side than its bore, and a drill that meets a slot cut before it runs off.
    """
    owner = {f: name for name, work in works.items() if not work.follows for f in work.feature.faces}
    for edge in document.edges:
        names = [owner.get(f) for f in edge.faces]
        for name, hole in (names, names[::-1]):
            if name is None or hole is None or works[hole].feature.kind not in HOLE_KINDS:
                continue
            if works[name].feature.kind not in BESIDE or hole in every[name] or leads_to(every, hole, name):
                continue
            for d, way in works[name].ways.items():
                rise = abs(dot(edge.start, way.view.direction) - dot(edge.end, way.view.direction))
                if rise > ALONG * edge.length:
                    out.sides.setdefault(name, {}).setdefault(d, []).append(hole)
                    every[name].append(hole)


def _opens_on(document: FeaturesDocument, owner: dict[int, str], feature: Feature, view: View) -> list[str]:
    """Features that own what meets the feature's walls in a sharp edge at its mouth."""
    own: set[int] = set(feature.faces)
    found: dict[str, None] = {}
    lowest = view.top - RIM * view.depth - LEVEL
    for edge in document.edges:
        if len(own & set(edge.faces)) != 1:
            continue
        low, ends = sorted(dot(p, view.direction) for p in (edge.start, edge.end))
        if ends - low > ALONG * edge.length:
            continue  # side by side, as a keyway and its bore: neither is the other's mouth
        for f in (f for f in edge.faces if f in owner and f not in own):
            if ends > lowest or _rises_to(document, f, view):
                found[owner[f]] = None
    return list(found)


def _rises_to(document: FeaturesDocument, face: int, view: View) -> bool:
    """Whether a curved face reaches up to a mouth: the edge where a hole breaks out of it dips, and ends far below."""
    known = next((f for f in document.faces if f.index == face), None)
    if known is None or known.surface == "plane" or known.box is None:
        return False
    share = [dot(axis, view.direction) for axis in document.part.frame]
    return top_of(known.box, share) > view.top - LEVEL


def top_of(box: Box, share: list[float]) -> float:
    """Highest level of a box; `share`: what each of its axes counts along the direction."""
    return sum(max(s * low, s * high) for s, low, high in zip(share, box.min, box.max, strict=True))


def leads_to(parents: dict[str, list[str]], start: str, goal: str) -> bool:
    """Whether a work is reached from another by going from works to what comes before them."""
    queue, seen = [start], set()
    while queue:
        name = queue.pop()
        if name == goal:
            return True
        if name not in seen:
            seen.add(name)
            queue += parents.get(name, [])
    return False


def _cycle(child: str, parent: str) -> Finding:
    return Finding(
        code="order_cycle",
        severity="warning",
        message=f"{child} and {parent} each open on the other: their order is left to the tools",
        hint="check by hand which of the two must come first",
        features=[child, parent],
    )
