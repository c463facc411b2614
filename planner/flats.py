"""Flat areas of the finished part on each stock side: what it can rest on and what jaws can press on, as plane outlines.

Outlines lie in the part's own axes: (u, v) are the levels along the two axes across the side, in x, y, z order.
"""

from __future__ import annotations

from functools import reduce

from shapely import box, make_valid
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from planner.problem import Problem, side_finished
from planner.stock import SIDES, Stock, dot
from shared.features import View
from shared.units import Vector


def across(side: str) -> tuple[str, str]:
    """The two axes across a side, in x, y, z order."""
    a, b = (axis for axis in "xyz" if axis != side[1])
    return a, b


def flats(problem: Problem, walls: dict[str, list[int]]) -> dict[str, BaseGeometry | None]:
    """For each stock side the flat outline of the finished part there; None where faces lie there without outlines.

    `walls`: plane faces of outside profiles on each side.
    """
    return {side: _flat(problem, side, walls[side]) for side in SIDES}


def raw_outline(stock: Stock, side: str) -> BaseGeometry:
    """The whole raw side."""
    (a, b) = across(side)
    return box(-stock.raw_level("-" + a), -stock.raw_level("-" + b), stock.raw_level("+" + a), stock.raw_level("+" + b))


def _flat(problem: Problem, side: str, walls: list[int]) -> BaseGeometry | None:
    found: list[BaseGeometry] = []
    for feature in problem.document.features:
        if side_finished(feature, problem.stock) != side:
            continue
        view = next(v for v in feature.views if problem.stock.side_of(v.direction) == side)
        if not view.outline:
            return None
        found.append(_rings(problem.stock, side, view.outline))
    if walls:
        rectangles = [*_wall_sides(problem, side, set(walls)), *_wall_edges(problem, side, set(walls))]
        if not rectangles:
            return None
        found += rectangles
    return reduce(lambda a, b: a.union(b), found, MultiPolygon())


def _rings(stock: Stock, side: str, rings: list[list[Vector]]) -> BaseGeometry:
    """Even-odd area of closed rings."""
    polygons = [make_valid(Polygon([_point(stock, side, p) for p in ring])) for ring in rings if len(ring) >= 3]
    return reduce(lambda a, b: a.symmetric_difference(b), polygons, MultiPolygon())


def _point(stock: Stock, side: str, p: Vector) -> tuple[float, float]:
    a, b = across(side)
    return dot(p, stock.direction("+" + a)), dot(p, stock.direction("+" + b))


def _wall_sides(problem: Problem, side: str, walls: set[int]) -> list[BaseGeometry]:
    """Rectangles of straight profile sides that lie on a stock side, over the view's height."""
    out = problem.stock.direction(side)
    near = problem.stock.part_level(side) - problem.stock.tolerances.near_miss_mm
    found: list[BaseGeometry] = []
    for work in problem.works.values():
        view = work.feature.views[0] if work.feature.views else None
        if view is None or work.feature.kind != "outside_profile" or abs(dot(view.direction, out)) > 1e-3:
            continue
        for s in view.sides:
            if walls & set(s.faces) and dot(s.start, out) >= near and dot(s.end, out) >= near:
                found.append(_upright(problem.stock, side, view, s.start, s.end))
    return found


def _upright(stock: Stock, side: str, view: View, start: Vector, end: Vector) -> BaseGeometry:
    ends = []
    for p in (start, end):
        for level in (view.bottom, view.top):
            lift = level - dot(p, view.direction)
            moved = tuple(c + lift * d for c, d in zip(p, view.direction, strict=True))
            ends.append(_point(stock, side, moved))  # type: ignore[arg-type]
    us, vs = zip(*ends, strict=True)
    return box(min(us), min(vs), max(us), max(vs))


def _wall_edges(problem: Problem, side: str, walls: set[int]) -> list[BaseGeometry]:
    """Rectangles over the sharp edges of profile walls for which no side of the view is known."""
    found: list[BaseGeometry] = []
    for work in (w for w in problem.works.values() if w.feature.kind == "outside_profile"):
        view = work.feature.views[0]
        known = {f for s in view.sides for f in s.faces}
        for face in sorted((walls & set(work.feature.faces)) - known):
            found += [
                _upright(problem.stock, side, view, e.start, e.end)
                for e in problem.document.edges
                if face in e.faces and abs(dot(e.start, view.direction) - dot(e.end, view.direction)) < 0.1 * e.length
            ]
    return found
