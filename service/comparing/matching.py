"""Which feature of the new model is which of the old one: equal ones first, then the cheapest pairing of the rest.

What is left after the equal pairs is paired so that as many as possible find a partner, at the least total of how far
they moved and how much their sizes differ. A pair must make sense: kinds that turn into each other, and either equal
sizes (moved), a shared place (resized), or a near place and a like size (both).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import networkx as nx
import numpy as np

from service.comparing.placing import same_pairs, same_sizes
from service.comparing.shapes import Shape, length, sub
from shared.features import HOLE_KINDS, POCKET_KINDS

FAMILIES = (
    HOLE_KINDS,
    (*POCKET_KINDS, "planar_face", "undercut"),
    ("chamfer", "edge_round"),
    ("boss", "outside_profile"),
)
"""Kinds that a change of the model turns into each other: a hole that gets a counterbore, a slot whose end is closed."""
OTHER_KIND = 0.4
"""What a change of kind costs in pairing; a move across the whole part costs 1."""
LIKE = 0.3
"""Largest mean difference of sizes at which a feature that moved as well is still taken for the same one."""
ALL_PAIRS, NEAREST = 20_000, 40
"""Pairs that are all weighed; beyond, each feature's nearest so many."""
LARGEST = 120
"""Features of one tangle that are paired exactly; beyond, the cheapest pairs are taken one by one."""


@dataclass
class Matched:
    """Pairs that are equal, pairs that differ, and what has no partner."""

    equal: list[tuple[Shape, Shape]] = field(default_factory=list)
    differing: list[tuple[Shape, Shape]] = field(default_factory=list)
    removed: list[Shape] = field(default_factory=list)
    added: list[Shape] = field(default_factory=list)


def match(old: list[Shape], new: list[Shape], reach: float) -> Matched:
    """Pairs of features; `reach` is the part's diagonal in mm, the longest move there is."""
    equal = same_pairs(old, new)
    done_old, done_new = {a.id for a, _ in equal}, {b.id for _, b in equal}
    rest_old = [s for s in old if s.id not in done_old]
    rest_new = [s for s in new if s.id not in done_new]
    found = _cheapest(rest_old, rest_new, reach)
    paired_old, paired_new = set(found), {b for b in found.values()}
    by_id = {s.id: s for s in rest_new}
    return Matched(
        equal,
        [(a, by_id[found[a.id]]) for a in rest_old if a.id in found],
        [s for s in rest_old if s.id not in paired_old],
        [s for s in rest_new if s.id not in paired_new],
    )


def _cheapest(old: list[Shape], new: list[Shape], reach: float) -> dict[str, str]:
    graph = nx.Graph()
    for a, candidates in _candidates(old, new):
        for b in candidates:
            price = cost(a, b, reach)
            if price is not None:
                graph.add_edge(("old", a.id), ("new", b.id), weight=4.0 - price)
    found: dict[str, str] = {}
    for part in nx.connected_components(graph):
        tangle = nx.Graph()  # built anew in order: what the search finds must not hang on how sets are stored
        tangle.add_nodes_from(sorted(part))
        tangle.add_weighted_edges_from(sorted((*sorted(e[:2]), e[2]) for e in graph.edges(part, data="weight")))
        pairs = nx.max_weight_matching(tangle, maxcardinality=True) if len(part) <= LARGEST else _greedy(tangle)
        for pair in pairs:
            a, b = sorted(pair, reverse=True)  # ("old", ...) after ("new", ...)
            found[a[1]] = b[1]
    return found


def _candidates(old: list[Shape], new: list[Shape]) -> Iterator[tuple[Shape, list[Shape]]]:
    """For each old feature the new ones it may be: all of them, in large tangles the nearest only."""
    if len(old) * len(new) <= ALL_PAIRS:
        yield from ((a, new) for a in old)
        return
    centres = np.array([b.centre for b in new])
    for a in old:
        far = ((centres - np.array(a.centre)) ** 2).sum(axis=1)
        yield a, [new[i] for i in np.argsort(far, kind="stable")[:NEAREST]]


def _greedy(graph: nx.Graph) -> list[tuple[tuple[str, str], tuple[str, str]]]:
    taken: set[tuple[str, str]] = set()
    pairs = []
    for a, b, _ in sorted(graph.edges(data="weight"), key=lambda e: (-e[2], sorted(e[:2]))):
        if a not in taken and b not in taken:
            taken |= {a, b}
            pairs.append((a, b))
    return pairs


def cost(a: Shape, b: Shape, reach: float) -> float | None:
    """What it costs to take b for a: 0 to about 3; None where it makes no sense."""
    related = a.kind == b.kind or any(a.kind in f and b.kind in f for f in FAMILIES)
    if not related or not _same_side(a, b):
        return None
    kind = 0.0 if a.kind == b.kind else OTHER_KIND
    moved = (length(shift(a, b)) / max(reach, 1.0)) ** 2
    if kind == 0.0 and same_sizes(a, b) and _same_extent(a, b):
        return moved
    differ = difference(a, b)
    if _share_place(a, b):
        return kind + moved + 0.5 * differ + 0.05
    near = length(shift(a, b)) <= length(a.extent) + length(b.extent)
    return kind + moved + differ + 0.3 if differ <= LIKE and near and kind == 0.0 else None


def _same_side(a: Shape, b: Shape) -> bool:
    """Whether some direction cuts both; of flats the way they face. Features that none reaches match by place alone."""
    if a.kind == b.kind == "planar_face" and a.directions and b.directions:
        return a.directions[0] == b.directions[0]
    return bool(set(a.directions) & set(b.directions)) or not a.directions or not b.directions


def _same_extent(a: Shape, b: Shape) -> bool:
    limit = max(a.tolerance, b.tolerance)
    return all(abs(x - y) <= limit for x, y in zip(a.extent, b.extent, strict=True))


def _share_place(a: Shape, b: Shape) -> bool:
    """Whether the boxes meet, touching planes counted, or one's axis runs through the other's middle."""
    return all(al <= bh + a.tolerance and bl <= ah + a.tolerance
               for al, ah, bl, bh in zip(a.low, a.high, b.low, b.high, strict=True))  # fmt: skip


def difference(a: Shape, b: Shape) -> float:
    """Mean relative difference of the sizes both have and of the boxes' extents: 0 equal, up to 1."""
    mine, others = dict(a.sizes), dict(b.sizes)
    values = [(mine[n], others[n]) for n in mine.keys() & others.keys()]
    values += list(zip(a.extent, b.extent, strict=True))
    parts = [abs(x - y) / max(abs(x), abs(y)) for x, y in values if max(abs(x), abs(y)) > 1e-6]
    return sum(sorted(parts)) / len(parts) if parts else 0.0


def shift(a: Shape, b: Shape) -> tuple[float, float, float]:
    """How far b stands from a, axis by axis: nothing where one end of the box stayed, else middle to middle."""
    out = []
    for k in range(3):
        low, high = b.low[k] - a.low[k], b.high[k] - a.high[k]
        stayed = min(abs(low), abs(high)) <= max(a.tolerance, b.tolerance)
        out.append(0.0 if stayed else sub(b.centre, a.centre)[k])
    return out[0], out[1], out[2]
