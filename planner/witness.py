"""In words: which features force each setup, and why fewer cannot do."""

from __future__ import annotations

from planner.problem import Problem
from planner.setups import SetupSolution
from planner.units import Grouped


def witness_of(problem: Problem, grouped: Grouped, solution: SetupSolution) -> list[str]:
    """One sentence for each setup naming the features that force it, then what order or holding adds."""
    names = grouped.setups.directions
    by_id = {u.id: u for u in grouped.setups.units}
    core = set(solution.core)
    out = []
    for k, slot in enumerate(solution.slots, 1):
        forcing = [u for u in slot.units if u in core]
        text = "; ".join(_only_from(grouped, u, [names[d] for d in by_id[u].directions]) for u in forcing)
        out.append(f"s{k} from {names[slot.direction]}: " + (text or "no smaller set of features was searched for"))
    out += _order(grouped, solution, core)
    if solution.clamping_forces:
        out += list(solution.notes)
    count = len(solution.slots)
    if solution.status == "optimal" and count > 1:
        out.append(
            f"these features alone cannot be cut in {count - 1} setup{'s' if count > 2 else ''}: searched exactly"
        )
    return out


def _only_from(grouped: Grouped, unit: str, directions: list[str]) -> str:
    features = grouped.features[unit]
    shown = ", ".join(features[:6]) + (f" and {len(features) - 6} more" if len(features) > 6 else "")
    verb = "is" if len(features) == 1 else "are"
    return f"{shown} {verb} cut only from {' or '.join(directions)}"


def _order(grouped: Grouped, solution: SetupSolution, core: set[str]) -> list[str]:
    """The order between forcing features, where a direction is visited twice."""
    visited = [s.direction for s in solution.slots]
    if len(set(visited)) == len(visited):
        return []
    by_id = {u.id: u for u in grouped.setups.units}
    out = []
    for unit in sorted(core):
        waits = frozenset().union(*(by_id[unit].waits(d) for d in by_id[unit].directions))
        for parent in sorted(waits & core):
            out.append(f"order: {', '.join(grouped.features[parent])} before {', '.join(grouped.features[unit])}")
    return out
