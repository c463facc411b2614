"""Which setup breaks which sharp edge: never one more setup, as few cutter calls as can be, and what is left is said.

An edge is broken once both its faces are cut. Where its wall is cut only later, from a side that does not see the edge, a
groove goes along the line where the wall will stand: cut down to it, the wall leaves the groove's flank as the break.
Machinists know it from parts that are cut free last. It needs a side that is faced all over, or a level to which all of the
block is cleared, so that nothing stands beside the line.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from planner.geometry import part_top
from planner.problem import Problem
from planner.stock import dot
from shared.features import Edge
from shared.findings import Finding

OUTERMOST = 0.01
"""Mm that an edge may lie under the part's top along a direction to be on the side itself."""


@dataclass
class Breaks:
    """Edges that each setup breaks (0-based slot -> edges in document order), those of them whose wall is cut later, and
    those that no setup breaks.
    """

    by_slot: dict[int, list[Edge]] = field(default_factory=dict)
    ahead: set[int] = field(default_factory=set)
    left: set[int] = field(default_factory=set)


def edges_by_slot(problem: Problem, slots: list[str], finished_in: dict[str, int]) -> Breaks:
    """Which setups break which edges with a chamfer cutter.

    `slots`: direction names in order. `finished_in`: feature -> slot that finishes it. The setup that can break most of
    what is left is taken first.
    """
    ready = _ready(problem, finished_in)
    can: dict[int, list[Edge]] = {
        k: [e for e in problem.edges if e.index in ready and ready[e.index] <= k and slot in problem.edge_directions(e)]
        for k, slot in enumerate(slots)
    }
    out = Breaks(left={e.index for e in problem.edges})
    while out.left:
        best = max(can, key=lambda k: (sum(e.index in out.left for e in can[k]), -k), default=None)
        served = [] if best is None else [e for e in can[best] if e.index in out.left]
        if best is None or not served:
            break
        out.by_slot[best] = served
        out.left -= {e.index for e in served}
    _ahead(problem, slots, finished_in, out)
    out.by_slot = {k: sorted(out.by_slot[k], key=lambda e: e.index) for k in sorted(out.by_slot)}
    return out


def _ahead(problem: Problem, slots: list[str], finished_in: dict[str, int], out: Breaks) -> None:
    """Gives edges that are left to the setup that faces their side, before their wall is cut."""
    owner = {f: feature.id for feature in problem.document.features for f in feature.faces}
    faced = {f for work in problem.works.values() if work.side for f in work.feature.faces}
    cleared = {slot: _cleared(problem, slot) for slot in slots}
    for edge in [e for e in problem.edges if e.index in out.left]:
        top = [f for f in edge.faces if f in faced]
        for k, slot in enumerate(slots):
            by_then = [finished_in.get(owner.get(f, ""), len(slots)) <= k for f in edge.faces]
            if sum(by_then) != 1 or slot not in problem.edge_directions(edge):
                continue
            there = edge.faces[by_then.index(True)]
            whole = there in cleared[slot] and finished_in.get(owner.get(there, "")) == k
            if whole or (there in top and _on_the_side(problem, edge, slot)):
                out.by_slot.setdefault(k, []).append(edge)
                out.ahead.add(edge.index)
                out.left.discard(edge.index)
                break


def ahead(problem: Problem, edge: Edge, slots: list[str]) -> list[tuple[str, int]]:
    """(direction, face that lies on its side and is faced whole) from where an edge can be broken ahead of its wall."""
    faced = {f for work in problem.works.values() if work.side for f in work.feature.faces}
    return [
        (s, f)
        for s in slots
        if _on_the_side(problem, edge, s)
        for f in edge.faces
        if f in faced and _across(problem, f, s)
    ]


def _across(problem: Problem, face: int, slot: str) -> bool:
    """Whether a face of a side is that of the direction."""
    return any(work.side == slot and face in work.feature.faces for work in problem.works.values())


def _cleared(problem: Problem, slot: str) -> set[int]:
    """Faces at whose level all of the block is cleared from a direction, but what stands up on them."""
    return {
        face
        for work in problem.works.values()
        if slot in work.ways and any(op.whole_block for op in work.ways[slot].recipe.operations)
        for face in work.feature.faces
    }


def _on_the_side(problem: Problem, edge: Edge, slot: str) -> bool:
    """Whether an edge lies on the part's outermost level along a direction."""
    d = problem.directions[slot]
    return min(dot(edge.start, d), dot(edge.end, d)) >= part_top(d, problem.document) - OUTERMOST


def _ready(problem: Problem, finished_in: dict[str, int]) -> dict[int, int]:
    """Edge index -> first slot after whose cuts both faces are there. Faces that nothing cuts are there from the start."""
    owner = {f: feature.id for feature in problem.document.features for f in feature.faces}
    out = {}
    for edge in problem.edges:
        features = [owner.get(f) for f in edge.faces]
        if all(f is None or f in finished_in or f not in problem.works for f in features):
            out[edge.index] = max((finished_in.get(f or "", 0) for f in features), default=0)
    return out


def unbroken(problem: Problem, slots: list[str], indices: Iterable[int]) -> list[Finding]:
    """What is said of edges that no operation breaks, and why; nothing for none. `slots`: direction names in order."""
    left = set(indices)
    if not left:
        return []
    edges = [e for e in problem.edges if e.index in left]
    length = sum(e.length for e in edges)
    shown = ", ".join(str(e.index) for e in edges[:12]) + (", ..." if len(edges) > 12 else "")
    reasons: dict[str, list[Edge]] = {}
    for edge in edges:
        reasons.setdefault(_why(problem, slots, edge), []).append(edge)
    why = "; ".join(f"{len(found)} {text}" for text, found in sorted(reasons.items(), key=lambda r: -len(r[1])))
    return [
        Finding(
            code="edges_not_broken",
            severity="warning",
            message=f"{len(edges)} sharp edges ({length:.1f} mm) are broken in no setup: edges {shown}; {why}",
            hint="deburr them by hand",
            faces=sorted({f for e in edges for f in e.faces}),
        )
    ]


def _why(problem: Problem, slots: list[str], edge: Edge) -> str:
    """Why no setup breaks an edge."""
    names = [problem.stock.side_of(d) or "(" + ", ".join(f"{c + 0.0:.3g}" for c in d) + ")" for d in edge.directions]
    if not names:
        return "out of a chamfer cutter's reach from every side, and passed by no wall's finish"
    here = problem.edge_directions(edge)
    if not set(here) & set(slots):
        seen = [s for s in slots if any(dot(problem.directions[s], d) > 1.0 - 1e-6 for d in edge.directions)]
        if any(problem.hemmed(edge, s) for s in seen):
            return "between walls that leave a chamfer cutter no room"
        if seen:
            return f"deeper than {problem.edge_reach:g} mm, the longest chamfer cutter's reach"
        return f"seen only from {' and '.join(names)}, from where nothing else is cut"
    return f"seen from {' and '.join(n for n in here if n in slots)}, but cut after the last setup there"
