"""Laying the new model onto the old one: files' own coordinates first, else the turn and shift that fit most features.

Both models come in their parts' own axes, so a turn of the whole model is one of 24. Shifts are voted for: each pair of
features of equal kind and size proposes the one that would bring them together.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass

from service.comparing.shapes import (
    IDENTITY,
    Matrix,
    Shape,
    angle,
    apply,
    length,
    rotations,
    sub,
    times,
    transposed,
)
from shared.units import Vector

ENOUGH = 0.5
"""Share of the smaller model's features that must coincide before a model is said to be moved as a whole."""
VOTE_MM = 0.05
SHIFTS = 4
"""Shifts tried for each turn: the ones with most votes."""
PAIRS = 3000
"""Most proposals counted for a turn: the rarest sizes are asked first, since they say most."""


@dataclass(frozen=True)
class Laid:
    """A turn and a shift in own axes (x_old = turn x_new + shift), and how many features coincide."""

    turn: Matrix
    shift: Vector
    coincide: int


def best_placing(old: list[Shape], new: list[Shape], own: Matrix) -> tuple[Laid, Laid | None, int]:
    """The placing to use, the files' own one, and how many others fit as many features.

    `own`: turn between the two parts' axes when the files' coordinates are kept. They win where they fit as many
    features as any other placing, or where no other fits half of the smaller model. Where `own` takes no axes to axes
    (the models are turned by an odd angle) there is no own one.
    """
    straight = snapped(own)
    kept = Laid(straight, (0.0, 0.0, 0.0), coinciding(old, [s.laid(straight) for s in new])) if straight else None
    tried = [kept] if kept else []
    for turn in rotations():
        turned = [s.laid(turn) for s in new]
        for shift in _shifts(old, turned):
            tried.append(Laid(turn, shift, coinciding(old, [s.laid(IDENTITY, shift) for s in turned])))
    most = max(laid.coincide for laid in tried)
    needed = ENOUGH * min(len(old), len(new))
    if kept and (kept.coincide == most or most <= needed):
        return kept, kept, 0
    back = transposed(straight or IDENTITY)
    alike = [laid for laid in tried if laid.coincide == most]
    chosen = min(
        alike, key=lambda p: (round(angle(times(p.turn, back)), 3), round(length(p.shift), 2), p.turn, p.shift)
    )
    return chosen, kept, len({(p.turn, tuple(round(c, 1) for c in p.shift)) for p in alike}) - 1


def snapped(own: Matrix) -> Matrix | None:
    """The turn with its entries made exactly 0 and 1; None where it takes no axes to axes."""
    rows = tuple(tuple(float(round(c)) for c in row) for row in own)
    off = max(abs(a - b) for r, q in zip(rows, own, strict=True) for a, b in zip(r, q, strict=True))
    return rows if off < 1e-3 else None  # type: ignore[return-value]


def mirrored_fit(old: list[Shape], new: list[Shape]) -> int:
    """Most features that coincide when the new model is mirrored: many mean that it is the other hand."""
    most = 0
    for turn in rotations(mirrored=True):
        turned = [s.laid(turn) for s in new]
        for shift in _shifts(old, turned)[:2]:
            most = max(most, coinciding(old, [s.laid(IDENTITY, shift) for s in turned]))
    return most


def _shifts(old: list[Shape], new: list[Shape]) -> list[Vector]:
    groups: dict[object, tuple[list[Shape], list[Shape]]] = defaultdict(lambda: ([], []))
    for shape in old:
        groups[(shape.kind, *_rounded(shape.extent))][0].append(shape)
    for shape in new:
        groups[(shape.kind, *_rounded(shape.extent))][1].append(shape)
    votes: Counter[Vector] = Counter()
    exact: dict[Vector, Vector] = {}
    asked = 0
    for a, b in sorted(groups.values(), key=lambda g: len(g[0]) * len(g[1])):
        asked += len(a) * len(b)
        if asked > PAIRS:
            break
        for x in a:
            for y in b:
                shift = sub(x.low, y.low)
                key = tuple(round(c / VOTE_MM) * VOTE_MM for c in shift)
                votes[key] += 1  # type: ignore[index]
                exact.setdefault(key, shift)  # type: ignore[arg-type]
    ranked = sorted(votes, key=lambda k: (-votes[k], length(k), k))
    return [exact[k] for k in ranked[:SHIFTS]]


def _rounded(extent: Vector) -> tuple[float, ...]:
    return tuple(round(e, 1) for e in extent)


def coinciding(old: list[Shape], new: list[Shape]) -> int:
    """How many features have a partner of equal kind, sizes and box; each serves once."""
    return len(same_pairs(old, new))


def same_pairs(old: list[Shape], new: list[Shape]) -> list[tuple[Shape, Shape]]:
    """Pairs of equal kind, sizes and box, each feature once."""
    grid: dict[tuple[object, ...], list[Shape]] = defaultdict(list)
    for shape in new:
        grid[(shape.kind, *(round(c) for c in shape.centre))].append(shape)
    taken: set[str] = set()
    pairs = []
    for shape in old:
        for other in _near(grid, shape):
            if other.id not in taken and same(shape, other):
                taken.add(other.id)
                pairs.append((shape, other))
                break
    return pairs


def _near(grid: dict[tuple[object, ...], list[Shape]], shape: Shape) -> list[Shape]:
    spots = [sorted({round(c - 0.1), round(c + 0.1)}) for c in shape.centre]
    return [s for x in spots[0] for y in spots[1] for z in spots[2] for s in grid.get((shape.kind, x, y, z), [])]


def same(a: Shape, b: Shape) -> bool:
    """Equal kind, box and sizes."""
    limit = max(a.tolerance, b.tolerance)
    boxes = zip((*a.low, *a.high), (*b.low, *b.high), strict=True)
    return a.kind == b.kind and all(abs(x - y) <= limit for x, y in boxes) and same_sizes(a, b)


def same_sizes(a: Shape, b: Shape) -> bool:
    """Equal sizes by name."""
    limit = max(a.tolerance, b.tolerance)
    names = [n for n, _ in a.sizes] == [n for n, _ in b.sizes]
    return names and all(abs(x - y) <= limit for (_, x), (_, y) in zip(a.sizes, b.sizes, strict=True))


def in_file(laid: Laid, old_frame: Matrix, new_frame: Matrix) -> tuple[Matrix, Vector]:
    """The placing in the files' coordinates: x_old = rotation x_new + offset."""
    back = transposed(old_frame)
    return times(times(back, laid.turn), new_frame), apply(back, laid.shift)
