"""Where the break of an edge stops before a wall: the cutter's cone and body need room at the edge's end too.

A wall stands at an end of an edge where another sharp edge rises from it more steeply than the cutter's cone does.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from planner.recipes.edges import BREAK_AT, EDGE_BODY
from planner.stock import dot
from shared.features import Edge
from shared.units import Mm, Vector

SAME: Mm = 1e-3
"""Ends this near each other are one: documents hold places to six decimals, kernels' vertices are a little off."""
STEEP = 0.72
"""Rise of an edge for its length from which it is a wall to a 90 degree cutter, whose cone rises by 0.71."""
LOW: Mm = 0.3
"""A rise up to this stands under the cone of a cutter that touches the edge off its tip."""


Feet = dict[tuple[int, int, int], list[tuple[int, Vector, Mm]]]


def short_of(rise: Mm) -> Mm:
    """How far the break of an edge stops before a wall so much higher than the edge, mm."""
    return min(EDGE_BODY / 2.0, BREAK_AT / 2.0 + rise)


def hemmed(edge: Edge, feet: Feet) -> bool:
    """Whether walls at its ends leave nothing of an edge to a chamfer cutter along the direction of `feet`."""
    rises = walls_at(edge, feet)
    return bool(rises) and edge.length <= sum(map(short_of, rises))


def rising(every: Sequence[Edge], direction: Vector) -> Feet:
    """What rises as steeply as a wall along a direction: by place, the index, foot and rise of each such edge."""
    feet: Feet = defaultdict(list)
    for other in every:
        for foot, top in ((other.start, other.end), (other.end, other.start)):
            rise = dot(_sub(top, foot), direction)
            size = dot(_sub(top, foot), _sub(top, foot)) ** 0.5
            if rise > max(LOW, STEEP * size):
                feet[_cell(foot)].append((other.index, foot, rise))
    return feet


def walls_at(edge: Edge, feet: Feet) -> list[Mm]:
    """How high walls rise at the ends of an edge, for each end that lies at one. Walls with rounded edges are not seen."""
    found = []
    for end in _ends(edge):
        here = [
            rise
            for cell in _around(end)
            for index, foot, rise in feet.get(cell, ())
            if index != edge.index and _near(foot, end)
        ]
        if here:
            found.append(max(here))
    return found


def _ends(edge: Edge) -> list[Vector]:
    """Ends of an edge; a closed one has none."""
    return [] if _near(edge.start, edge.end) else [edge.start, edge.end]


def _sub(a: Vector, b: Vector) -> Vector:
    return a[0] - b[0], a[1] - b[1], a[2] - b[2]


def _near(a: Vector, b: Vector) -> bool:
    return all(abs(x - y) <= SAME for x, y in zip(a, b, strict=True))


def _cell(p: Vector) -> tuple[int, int, int]:
    return round(p[0]), round(p[1]), round(p[2])


def _around(p: Vector) -> set[tuple[int, int, int]]:
    """Cells, 1 mm wide, that hold what is near a place."""
    return {_cell((p[0] + x, p[1] + y, p[2] + z)) for x in (-SAME, SAME) for y in (-SAME, SAME) for z in (-SAME, SAME)}
