"""Where a cut runs out over the sides of the stock, and how high above the sides that the workpiece may rest on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import product

from planner.problem import Problem
from planner.recipes.practice import BREAK_THROUGH
from planner.recipes.upright import is_upright
from planner.setups.data import Heights
from planner.stock import SIDES, Stock, dot, opposite
from shared.features import HOLE_KINDS, Feature, View
from shared.units import Mm, Vector

HOLDER_RADIUS: Mm = 30.0
"""Room that holder and spindle nose need beside a cutter that comes in across a jaw: common practice, no source."""
OVERRUN: Mm = 12.0
"""How far a cutter that comes in level with the table goes below the part over an edge that is open there: half of 20 mm and
its way in; common practice, no source."""
LEVEL = 0.02
"""Cosine below which a direction counts as level: about 1 degree."""
EVEN = 5.0
"""Degrees that a chamfer may be off 45 for a cutter to stand out past its end as little as `contact.STRIP_GAP` reckons with."""
ROUND_ROOM: Mm = 10.6
"""Room beyond that for a round, on whose end a cutter of 20 mm runs straight on along the jaw: 12 mm and its radius."""
WITHIN = (*HOLE_KINDS, "closed_pocket", "outside_profile")
"""Kinds that run out over nothing: closed all round; walls cut their side whole, beside the jaws."""
WITH_SIDES = ("step", "slot", "open_pocket")


def touches(stock: Stock, view: View, side: str, corners: Sequence[Vector] = ()) -> bool:
    """Whether the outline reaches the part's box on a side across the view's direction; yes where it is not known.

    `corners`: of the feature's faces' boxes, for views without an outline.
    """
    out = stock.direction(side)
    if abs(dot(out, view.direction)) > 1e-3:
        return False
    points = points_of(view) or corners
    if not points:
        return True
    chord = 0.02 * (stock.part_level(side) + stock.part_level(opposite(side)))
    return max(dot(p, out) for p in points) >= stock.part_level(side) - chord  # arcs come as chords


def points_of(view: View) -> list[Vector]:
    """All that a view says of where it lies: its outline and the ends of its sides."""
    return [p for ring in view.outline for p in ring] + [p for s in view.sides for p in (s.start, s.end)]


def opens_on(stock: Stock, view: View, side: str, corners: Sequence[Vector] = ()) -> bool:
    """Whether the cut runs out over a stock side: an open side lies there, or a floor without walls ends there."""
    if view.kind in WITHIN:
        return False
    if stock.side_of(view.direction) is None and dot(view.direction, stock.direction(side)) > LEVEL:
        return True  # a slanting floor takes away what lies above it, out to the sides that it looks towards
    if view.kind not in WITH_SIDES:
        return touches(stock, view, side, corners)
    out, near = stock.direction(side), stock.part_level(side) - stock.tolerances.near_miss_mm
    return any(s.open and dot(s.start, out) >= near and dot(s.end, out) >= near for s in view.sides)


def heights(
    problem: Problem,
    view: View,
    beside: Callable[[str, str], bool] = lambda rest, side: False,
    corners: Sequence[Vector] = (),
) -> tuple[dict[tuple[str, str], Mm], dict[tuple[str, str], Mm]]:
    """(runs out over, comes in across): (rest side, side) -> mm of the lowest cut above the finished rest side.

    The first also has ("", side): mm of the cut above the part's middle line, for work held between its ends. `beside`:
    whether the cut passes the ends of jaws that press on a side while the work rests on another. `corners`: of the boxes of
    the feature's faces, for views without an outline.
    """
    stock, d = problem.stock, view.direction
    opened = [s for s in SIDES if opens_on(stock, view, s, corners)]
    middle = view.bottom - _middle(stock, d)
    out: dict[tuple[str, str], Mm] = {("", s): middle for s in opened}
    across: dict[tuple[str, str], Mm] = {}
    leans = {s: dot(d, stock.direction(s)) for s in SIDES}
    at_size = side_at_size(stock, view)  # a side faced from beside: past the jaws' ends
    for rest in SIDES:
        up, steep = stock.direction(opposite(rest)), leans[opposite(rest)]
        if steep < -LEVEL:
            continue
        low = lowest(view, up, corners) + stock.part_level(rest)
        if abs(steep) < LEVEL and rest in opened and not at_size:
            low -= OVERRUN
        faced = abs(steep) < LEVEL and at_size
        out |= {(rest, s): low for s in opened if s[1] != rest[1] and not faced and not beside(rest, s)}
        for side, lean in leans.items():
            if side[1] != rest[1] and lean > LEVEL:
                across[rest, side] = low - HOLDER_RADIUS * lean
    return out, across


def strip_corners(problem: Problem, feature: Feature, view: View) -> list[Vector]:
    """Corners of the boxes of a chamfer or a round that stands upright in a view, as across a corner of the part; else nothing."""
    strip = feature.kind in ("chamfer", "edge_round") and is_upright(view)
    if not strip:
        return []
    even = feature.kind == "chamfer" and abs(feature.dimensions.get("angle", 45.0) - 45.0) <= EVEN
    return corners_of(problem, feature, 0.0 if even else ROUND_ROOM)


def corners_of(problem: Problem, feature: Feature, room: Mm = 0.0) -> list[Vector]:
    """Corners of the boxes of a feature's faces, `room` larger all round; nothing where one has none."""
    boxes = [f.box for f in problem.document.faces if f.index in feature.faces]
    x, y, z = problem.document.part.frame
    return [
        (a * x[0] + b * y[0] + c * z[0], a * x[1] + b * y[1] + c * z[1], a * x[2] + b * y[2] + c * z[2])
        for box in (boxes if all(boxes) else [])
        if box is not None
        for a, b, c in product(*((low - room, high + room) for low, high in zip(box.min, box.max, strict=True)))
    ]


def side_at_size(stock: Stock, view: View) -> bool:
    """Whether the cut only takes the raw layer off the stock side that it comes from."""
    side = stock.side_of(view.direction)
    return side is not None and view.bottom >= stock.part_level(side) - stock.tolerances.near_miss_mm


def lowest(view: View, up: Vector, corners: Sequence[Vector] = ()) -> Mm:
    """Lowest level along `up` of what the cutter sweeps, break-through included; -inf where nothing tells."""
    steep = dot(view.direction, up)
    past = BREAK_THROUGH * max(steep, 0.0) if view.through else 0.0
    if steep > 1.0 - LEVEL:
        return view.bottom - past
    points = points_of(view)
    if not points:  # boxes hold all of the faces: nothing of them lies lower
        return min((dot(p, up) for p in corners), default=float("-inf")) - past
    return min(dot(p, up) for p in points) + min(0.0, view.depth * steep) - past


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
