"""Upright edges: a chamfer cutter breaks only edges that lie across its axis; those along it are broken by the wall's finish.

A programmer lets the finishing contour turn the corner over a small flat, so that no sharp edge comes off the machine and
no cutter is changed for it. That needs both walls at size by then, the cutter's side along the whole edge, and free room
round the corner: both walls are milled along this direction, or one of them is a side of the block.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from planner.paths import CLEAR
from planner.problem import Problem, side_finished
from planner.recipes.edges import EDGE_BREAK
from planner.stock import dot
from shared.cutters import MILLS
from shared.features import Edge
from shared.plan import Clamping, Operation, Setup

ALONG = 1e-3
"""How far from 1 the share of an edge's length along a direction may be."""

BACK = 1.0 - 1.0 / math.sqrt(2.0)
"""Share of its radius that a cutter reaches back over a corner that it turns round."""


@dataclass(frozen=True)
class _Cut:
    """An operation with its setup and its running number in the plan."""

    number: int
    setup: Setup
    op: Operation


def break_upright(problem: Problem, setups: list[Setup], clampings: list[Clamping], left: set[int]) -> set[int]:
    """Gives the edges in `left` (by index) to wall finishes that can break them on their way; those that none can.

    The operations' edges, reasons, paths and minutes are brought up to date, and the minutes of their setups.
    """
    cuts = [_Cut(n, s, op) for n, (s, op) in enumerate((s, op) for s in setups for op in s.operations)]
    made = {face: cut for cut in reversed(cuts) for face in cut.op.faces}  # corners may follow with a finer cutter
    held = {c.id: c for c in clampings}
    outer = {f for x in problem.document.features if side_finished(x, problem.stock) for f in x.faces}
    chosen: dict[int, list[tuple[Edge, bool]]] = {}
    for edge in (e for e in problem.edges if e.index in left):
        fit = list(_fit(edge, cuts, made, held, outer, problem))
        if fit:
            cut = min(fit, key=lambda c: (not set(edge.faces) <= set(c.op.faces), c.number))
            chosen.setdefault(cut.number, []).append((edge, set(edge.faces) <= set(cut.op.faces)))
    for number, edges in chosen.items():
        _give(cuts[number], edges)
    return left - {e.index for edges in chosen.values() for e, _ in edges}


def _fit(
    edge: Edge, cuts: list[_Cut], made: dict[int, _Cut], held: dict[str, Clamping], outer: set[int], problem: Problem
) -> Iterator[_Cut]:
    """Wall finishes that can turn round the edge."""
    for cut in cuts:
        own = set(edge.faces) & set(cut.op.faces)
        if not own or not _side_mills(cut.op) or not _covers(cut, edge):
            continue
        if _in_the_way(held[cut.setup.clamping], cut, edge, problem):
            continue
        others = [made.get(f) for f in edge.faces if f not in own]
        if any(o is not None and o.number > cut.number for o in others):
            continue
        if all(f in own or f in outer or _same_way(made.get(f), cut) for f in edge.faces):
            yield cut


def _in_the_way(clamping: Clamping, cut: _Cut, edge: Edge, problem: Problem) -> bool:
    """Whether what holds the part stands where the cutter turns round the edge: jaws end a share of its radius before it.

    Centred over the corner at 45 degrees, a cutter of radius R reaches (1 - 1/sqrt 2) R back along a wall.
    """
    if set(edge.faces) & set(clamping.rest_faces):
        return True
    if not set(edge.faces) & set(clamping.clamp_faces):
        return False
    if clamping.device != "vise" or clamping.jaw_width is None or not clamping.clamp_sides or not clamping.rest_side:
        return True
    along = next((a for a in "xyz" if a not in (clamping.clamp_sides[0][1], clamping.rest_side[1])), "")
    size = problem.stock.part_level("+" + along) + problem.stock.part_level("-" + along)
    if clamping.jaw_width > size:  # only one end is cut beside jaws so wide, and it stands out from them
        return False
    return (size - clamping.jaw_width) / 2.0 < BACK * cut.op.tool.DC / 2.0 + 1.0


def _side_mills(op: Operation) -> bool:
    return op.kind == "side_finish_milling" and op.tool.kind in MILLS[:2] and bool(op.features) and not op.edges


def _covers(cut: _Cut, edge: Edge) -> bool:
    """Whether the edge is straight along the setup's direction and the cutter's side passes all of it."""
    a, b = dot(edge.start, cut.setup.direction), dot(edge.end, cut.setup.direction)
    levels = cut.op.levels
    upright = edge.length > 0.0 and abs(abs(a - b) / edge.length - 1.0) < ALONG
    return upright and levels.top >= max(a, b) - 0.02 and levels.bottom - levels.break_through <= min(a, b) + 0.02


def _same_way(other: _Cut | None, cut: _Cut) -> bool:
    """Whether the other wall is milled along the same line, from this side or the opposite one."""
    if other is None:
        return False
    return abs(dot(other.setup.direction, cut.setup.direction)) > 1.0 - 1e-6 and other.op.kind == "side_finish_milling"


def _give(cut: _Cut, edges: list[tuple[Edge, bool]]) -> None:
    """Adds edges to an operation; where its own contour does not pass the corner, a way there and round it as well."""
    op = cut.op
    apart = sum(not own for _, own in edges)
    way = op.passes.axial_count * apart * (op.tool.DC + 2.0 * CLEAR)
    op.edges = sorted(e.index for e, _ in edges)
    op.because.append(
        f"breaks {len(edges)} upright edge(s) by {EDGE_BREAK:g} mm on its way: the contour turns their corners over a flat, "
        "since no chamfer cutter breaks an edge that lies along its axis"
    )
    op.path_length += way
    op.minutes += way / op.feed
    cut.setup.minutes += way / op.feed
