"""Where a cut runs out over the sides of the stock, and how high above the sides that the workpiece may rest on."""

from __future__ import annotations

from planner.problem import Problem
from planner.recipes.practice import BREAK_THROUGH
from planner.setups.data import Heights
from planner.stock import SIDES, Stock, dot, opposite
from shared.features import HOLE_KINDS, View
from shared.units import Mm, Vector

HOLDER_RADIUS: Mm = 30.0
"""Room that holder and spindle nose need beside a cutter that comes in across a jaw: common practice, no source."""
LEVEL = 0.02
"""Cosine below which a direction counts as level: about 1 degree."""
WITHIN = (*HOLE_KINDS, "closed_pocket", "outside_profile")
"""Kinds that run out over nothing: closed all round; walls cut their side whole, beside the jaws."""
WITH_SIDES = ("step", "slot", "open_pocket")


def touches(stock: Stock, view: View, side: str) -> bool:
    """Whether the outline reaches the part's box on a side across the view's direction; yes where it is not known."""
    out = stock.direction(side)
    if abs(dot(out, view.direction)) > 1e-3:
        return False
    points = [p for ring in view.outline for p in ring] + [p for s in view.sides for p in (s.start, s.end)]
    if not points:
        return True
    chord = 0.02 * (stock.part_level(side) + stock.part_level(opposite(side)))
    return max(dot(p, out) for p in points) >= stock.part_level(side) - chord  # arcs come as chords


def opens_on(stock: Stock, view: View, side: str) -> bool:
    """Whether the cut runs out over a stock side: an open side lies there, or a floor without walls ends there."""
    if view.kind in WITHIN:
        return False
    if stock.side_of(view.direction) is None and dot(view.direction, stock.direction(side)) > LEVEL:
        return True  # a slanting floor takes away what lies above it, out to the sides that it looks towards
    if view.kind not in WITH_SIDES:
        return touches(stock, view, side)
    out, near = stock.direction(side), stock.part_level(side) - stock.tolerances.near_miss_mm
    return any(s.open and dot(s.start, out) >= near and dot(s.end, out) >= near for s in view.sides)


def heights(problem: Problem, view: View) -> tuple[dict[tuple[str, str], Mm], dict[tuple[str, str], Mm]]:
    """(runs out over, comes in across): (rest side, side) -> mm of the lowest cut above the finished rest side.

    The first also has ("", side): mm of the cut above the part's middle line, for work held between its ends.
    """
    stock, d = problem.stock, view.direction
    opened = [s for s in SIDES if opens_on(stock, view, s)]
    middle = view.bottom - _middle(stock, d)
    out: dict[tuple[str, str], Mm] = {("", s): middle for s in opened}
    across: dict[tuple[str, str], Mm] = {}
    leans = {s: dot(d, stock.direction(s)) for s in SIDES}
    at_size = side_at_size(stock, view)  # a side faced from beside: past the jaws' ends
    for rest in SIDES:
        up, steep = stock.direction(opposite(rest)), leans[opposite(rest)]
        if steep < -LEVEL:
            continue
        low = lowest(view, up) + stock.part_level(rest)
        beside = abs(steep) < LEVEL and at_size
        out |= {(rest, s): low for s in opened if s[1] != rest[1] and not beside}
        for side, lean in leans.items():
            if side[1] != rest[1] and lean > LEVEL:
                across[rest, side] = low - HOLDER_RADIUS * lean
    return out, across


def side_at_size(stock: Stock, view: View) -> bool:
    """Whether the cut only takes the raw layer off the stock side that it comes from."""
    side = stock.side_of(view.direction)
    return side is not None and view.bottom >= stock.part_level(side) - stock.tolerances.near_miss_mm


def lowest(view: View, up: Vector) -> Mm:
    """Lowest level along `up` of what the cutter sweeps, break-through included."""
    steep = dot(view.direction, up)
    past = BREAK_THROUGH * max(steep, 0.0) if view.through else 0.0
    if steep > 1.0 - LEVEL:
        return view.bottom - past
    points = [dot(p, up) for ring in view.outline for p in ring]
    points += [dot(p, up) for s in view.sides for p in (s.start, s.end)]
    return min(points) + min(0.0, view.depth * steep) - past if points else float("-inf")


def merged(tables: list[Heights]) -> dict[tuple[str, str], Mm]:
    """The lowest height of each key over several cuts."""
    out: dict[tuple[str, str], Mm] = {}
    for table in tables:
        for key, value in table.items():
            out[key] = min(value, out.get(key, value))
    return out


def _middle(stock: Stock, direction: Vector) -> Mm:
    """Level of the middle of the part's box along a direction."""
    return sum(
        dot(axis, direction) * (low + high) / 2.0
        for axis, low, high in zip(stock.frame, stock.low, stock.high, strict=True)
    )
