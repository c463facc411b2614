"""Which setup breaks which sharp edge: never one more setup, as few cutter calls as can be, and what is left is said."""

from __future__ import annotations

from collections.abc import Iterable

from planner.problem import Problem
from shared.features import Edge
from shared.findings import Finding


def edges_by_slot(
    problem: Problem, slots: list[str], finished_in: dict[str, int]
) -> tuple[dict[int, list[Edge]], set[int]]:
    """Edges that each setup breaks with a chamfer cutter (0-based slot -> edges in document order), and those that none can.

    `slots`: direction names in order. `finished_in`: feature -> slot that finishes it. An edge is there to be broken once
    both its faces are cut. The setup that can break most of what is left is taken first.
    """
    ready = _ready(problem, finished_in)
    can: dict[int, list[Edge]] = {
        k: [e for e in problem.edges if e.index in ready and ready[e.index] <= k and slot in problem.edge_directions(e)]
        for k, slot in enumerate(slots)
    }
    chosen: dict[int, list[Edge]] = {}
    left = {e.index for e in problem.edges}
    while left:
        best = max(can, key=lambda k: (sum(e.index in left for e in can[k]), -k), default=None)
        served = [] if best is None else [e for e in can[best] if e.index in left]
        if best is None or not served:
            break
        chosen[best] = served
        left -= {e.index for e in served}
    return dict(sorted(chosen.items())), left


def _ready(problem: Problem, finished_in: dict[str, int]) -> dict[int, int]:
    """Edge index -> first slot after whose cuts both faces are there. Faces that nothing cuts are there from the start."""
    owner = {f: feature.id for feature in problem.document.features for f in feature.faces}
    out = {}
    for edge in problem.edges:
        features = [owner.get(f) for f in edge.faces]
        if all(f is None or f in finished_in or f not in problem.works for f in features):
            out[edge.index] = max((finished_in.get(f or "", 0) for f in features), default=0)
    return out


def unbroken(problem: Problem, indices: Iterable[int]) -> list[Finding]:
    """What is said of edges that no operation breaks; nothing for none."""
    left = set(indices)
    if not left:
        return []
    edges = [e for e in problem.edges if e.index in left]
    length = sum(e.length for e in edges)
    shown = ", ".join(str(e.index) for e in edges[:12]) + (", ..." if len(edges) > 12 else "")
    return [
        Finding(
            code="edges_not_broken",
            severity="warning",
            message=f"{len(edges)} sharp edges ({length:.1f} mm) are broken in no setup: edges {shown}",
            hint="deburr them by hand: no planned setup's direction reaches them once both their faces are cut, and no wall's "
            "finish passes them",
            faces=sorted({f for e in edges for f in e.faces}),
        )
    ]
