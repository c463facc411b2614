"""From the plan's problem to the setup search: features that are always cut together become one unit."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from planner.edgebreaks import ahead
from planner.flats import flats
from planner.openings import corners_of, heights, merged, points_of, strip_corners, touches
from planner.problem import Problem, Work, side_finished
from planner.setups import EdgeGroup, SetupProblem, Unit, modes_for
from planner.setups.contact import Grips
from planner.setups.data import Heights
from planner.stock import SIDES, dot
from shared.cutters import LENGTH_DIAMETER_STIFF
from shared.features import Face
from shared.plan import Operation, Vise
from shared.units import Vector

MILLS = ("endmill", "bullnose_endmill", "ball_endmill")
ACROSS = 1e-3
"""Cosine below which a side lies across a direction."""
SMALLEST_HOLD = 25.0
"""Mm2: flat faces of a side smaller than this together are neither rested on nor clamped; common practice, no source."""
HOLD_SHARE = 0.02
"""Share of a side's area in the part's box below which its flat faces hold nothing; common practice, no source."""
SHORTEST_WALL = 5.0
"""Mm: a wall shorter than this is not clamped; common practice, no source."""


@dataclass(frozen=True)
class Grouped:
    """The setup problem and which features each of its units stands for."""

    setups: SetupProblem
    features: dict[str, list[str]]
    grips: Grips


def setup_problem(problem: Problem, vise: Vise | None = None, tilt: float = 90.0) -> Grouped:
    """Units, directions, ways to hold the workpiece and flat sides, as the setup search wants them.

    `tilt`: degrees that the table of a 5-axis machine leans away from the spindle at most.
    """
    groups = _groups(problem)
    member = {f: unit for unit, features in groups.items() for f in features}
    names = tuple(problem.directions)
    layers = {unit.removeprefix("face "): unit for unit in groups if unit.startswith("face ")}
    grips = Grips(problem.stock, vise or Vise(), flats(problem, {s: profile_walls(problem, s) for s in SIDES}))  # type: ignore[call-arg]
    units = tuple(_unit(problem, u, features, member, names, layers, grips) for u, features in groups.items())
    modes = modes_for([problem.directions[n] for n in names], problem.stock, problem.axes, grips=grips, tilt=tilt)
    flat = frozenset(side for side in SIDES if is_flat(problem, side))
    edges = _edges(problem, member)
    return Grouped(SetupProblem(names, units, modes, flat, problem.axes > 3, edges), groups, grips)


def _edges(problem: Problem, member: dict[str, str]) -> tuple[EdgeGroup, ...]:
    """Sharp edges that the machine may break, counted by the units that make them and the directions that see them."""
    owner = {face: f.id for f in problem.document.features for face in f.faces}
    names = list(problem.directions)
    count: dict[tuple[frozenset[str], frozenset[int], frozenset[tuple[str, int]]], int] = defaultdict(int)
    for edge in problem.edges:
        units = frozenset(member[owner[f]] for f in edge.faces if owner.get(f) in member)
        there = problem.edge_directions(edge)
        seen = frozenset(names.index(name) for name in there)
        early = frozenset((member[owner[f]], names.index(name)) for name, f in ahead(problem, edge, there))
        if units and seen:
            count[units, seen, early] += 1
    order = sorted(count, key=lambda key: tuple(map(sorted, key)))
    return tuple(EdgeGroup(units, seen, count[units, seen, early], early) for units, seen, early in order)


def _groups(problem: Problem) -> dict[str, list[str]]:
    """Unit id -> features: the faces of one stock side; and features alike in directions, cutters, parents and children.

    Features that are alike so and cut no side can always be moved into the earliest of their setups, so keeping them
    together never costs a setup.
    """
    children: dict[str, set[str]] = defaultdict(set)
    for child, parents in problem.parents.items():
        for parent in parents + [p for found in problem.from_side.get(child, {}).values() for p in found]:
            children[parent].add(child)
    groups: dict[object, list[str]] = defaultdict(list)
    for name, work in problem.works.items():
        if work.side and work.side in work.ways:
            key: object = ("face", work.side)
        elif any(cut_sides(problem, work, d) for d in work.ways):
            key = ("alone", name)
        else:
            here = problem.from_side.get(name, {})
            tools = tuple((d, frozenset(tools_of(work, d)), frozenset(here.get(d, []))) for d in work.ways)
            key = (tools, frozenset(problem.parents[name]), frozenset(children[name]))
        groups[key].append(name)
    return {_unit_name(problem, features): features for features in groups.values()}


def _unit_name(problem: Problem, features: list[str]) -> str:
    work = problem.works[features[0]]
    return f"face {work.side}" if work.side in work.ways else "+".join(features)


def _unit(
    problem: Problem,
    name: str,
    features: list[str],
    member: dict[str, str],
    names: tuple[str, ...],
    layers: dict[str, str],
    grips: Grips,
) -> Unit:
    works = [problem.works[f] for f in features]
    ways = [n for n in works[0].ways if all(n in w.ways for w in works)]
    index = {n: names.index(n) for n in ways}
    strips = {n: [strip_corners(problem, w.feature, w.ways[n].view) for w in works] for n in ways}
    levels = {
        n: [_heights(problem, w, n, points, grips) for w, points in zip(works, strips[n], strict=True)] for n in ways
    }
    return Unit(
        name,
        tuple(index[n] for n in ways),
        frozenset(member[p] for f in features for p in problem.parents[f]) - {name},
        {index[n]: layers[n] for n in ways if n in layers and layers[n] != name},
        {index[n]: frozenset().union(*(cut_sides(problem, w, n) for w in works)) for n in ways},
        {index[n]: frozenset().union(*(tools_of(w, n) for w in works)) for n in ways},
        {index[n]: sum(op.minutes for w in works for op in w.ways[n].recipe.operations) for n in ways},
        {index[n]: merged([opens for opens, _ in levels[n]]) for n in ways},
        {index[n]: merged([over for _, over in levels[n]]) for n in ways},
        {
            index[n]: frozenset(member[p] for f in features for p in problem.from_side.get(f, {}).get(n, [])) - {name}
            for n in ways
        },
        {index[n]: {a: grips.taken(a, sum(strips[n], [])) for a in "xyz"} for n in ways if any(strips[n])},
        frozenset(index[n] for n in ways if any(_slender(op) for w in works for op in w.ways[n].recipe.operations)),
    )


def _heights(problem: Problem, work: Work, name: str, strip: list[Vector], grips: Grips) -> tuple[Heights, Heights]:
    """What a work's cut from a direction runs out over and comes in across; `strip`: its corners where jaws may end before it."""

    def beside(rest: str, side: str) -> bool:
        return grips.beside(rest, side, strip)

    view = work.ways[name].view
    return heights(problem, view, beside, [] if points_of(view) else corners_of(problem, work.feature))


def _slender(op: Operation) -> bool:
    """Whether an operation mills deeper than its cutter is stiff."""
    deep = op.levels.top - op.levels.bottom + op.levels.break_through
    return op.tool.kind in MILLS and deep > LENGTH_DIAMETER_STIFF * op.tool.DC


def tools_of(work: Work, direction: str) -> set[str]:
    """Ids of the cutters that a way uses."""
    return {op.tool.id for op in work.ways[direction].recipe.operations}


def cut_sides(problem: Problem, work: Work, direction: str) -> frozenset[str]:
    """Stock sides that cutting the feature from a direction brings to size, so that they cannot be held meanwhile."""
    if work.side:
        return frozenset({work.side})
    view = work.ways[direction].view
    if work.feature.kind == "outside_profile" or view.kind == "outside_profile":
        walls = [f for f in problem.document.faces if f.index in work.feature.faces]
        across = [s for s in SIDES if abs(dot(problem.stock.direction(s), view.direction)) < ACROSS]
        return frozenset(
            s for s in across if touches(problem.stock, view, s) or any(_reaches(problem, f, s) for f in walls)
        )
    if work.feature.kind == "region" and direction in SIDES and not _faced(problem, direction):
        near = problem.stock.tolerances.near_miss_mm
        return frozenset({direction} if view.top >= problem.stock.part_level(direction) - near else ())
    return frozenset()


def _reaches(problem: Problem, face: Face, side: str) -> bool:
    """Whether a face lies on the part's box on a side, as far as its own box tells."""
    if face.box is None:
        return False
    axis, near = "xyz".index(side[1]), problem.stock.tolerances.near_miss_mm
    level = face.box.max[axis] if side[0] == "+" else -face.box.min[axis]
    return level >= problem.stock.part_level(side) - near


def sides_after(problem: Problem, grouped: Grouped, units: tuple[str, ...], direction: str) -> frozenset[str]:
    """Stock sides that are at size once a setup with these units is done, besides those that were before."""
    sides = {s for u in units for f in grouped.features[u] for s in cut_sides(problem, problem.works[f], direction)}
    return frozenset(sides | ({direction} & set(SIDES)))


def _faced(problem: Problem, side: str) -> bool:
    return any(w.side == side for w in problem.works.values()) or _raw_face(problem, side)


def _raw_face(problem: Problem, side: str) -> bool:
    """A flat face of the part lies on the side and needs no cut, since the stock has no allowance there."""
    return any(side_finished(f, problem.stock) == side for f in problem.document.features)


def is_flat(problem: Problem, side: str) -> bool:
    """Whether a side can be rested on or clamped once it is cut: planar faces or flat walls of a profile of some size."""
    faced = {f for w in problem.works.values() if w.side == side for f in w.feature.faces}
    faced |= {i for f in problem.document.features if side_finished(f, problem.stock) == side for i in f.faces}
    faces = faced | set(profile_walls(problem, side))
    area = {f.index: f.area for f in problem.document.faces}
    if not faces & area.keys():
        return bool(faces)
    a, b = (problem.stock.part_level("+" + x) + problem.stock.part_level("-" + x) for x in "xyz" if x != side[1])
    return sum(area.get(f, 0.0) for f in faces) >= max(SMALLEST_HOLD, HOLD_SHARE * a * b)


def profile_walls(problem: Problem, side: str) -> list[int]:
    """Plane faces of outside profiles that lie on a stock side: told by their view's sides or by their sharp edges."""
    stock, out = problem.stock, problem.stock.direction(side)
    near = stock.part_level(side) - stock.tolerances.near_miss_mm
    flat = {f.index for f in problem.document.faces if f.surface == "plane"}
    found: set[int] = set()
    for work in (w for w in problem.works.values() if w.feature.kind == "outside_profile"):
        view = work.feature.views[0]
        if abs(dot(view.direction, out)) > 1e-3:
            continue
        plane = flat & set(work.feature.faces)
        for s in view.sides:
            if s.radius is None and s.draft == 0 and dot(s.start, out) >= near and dot(s.end, out) >= near:
                found |= plane & set(s.faces)
        for edge in problem.document.edges:
            level = dot(edge.start, view.direction) - dot(edge.end, view.direction)  # 0 along a wall's top or bottom
            if edge.length >= SHORTEST_WALL > 10 * abs(level) and min(dot(edge.start, out), dot(edge.end, out)) >= near:
                found |= plane & set(edge.faces)
    return sorted(found)
