"""Process-planning problems from the literature, as `../shared/benchmarks/sequencing/cases.json` writes them down."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from planner.sequence import order
from planner.tasks import Costs, Hand, Ordered, Task

MAX_STATES = 400_000
SINGLE_MACHINE = {"setups_first": Costs(0, 1000, 1), "tools_first": Costs(0, 1, 1000)}
Case = dict[str, Any]


def read_cases(path: Path) -> list[Case]:
    """The cases of a file. Raises OSError or ValueError where it cannot be read."""
    return list(json.loads(path.read_text()))


def optimum(case: Case) -> Ordered:
    """The cheapest order over all machines."""
    return order(tasks_of(case), costs_of(case), max_states=MAX_STATES)


def on_one_machine(case: Case, goal: str) -> Ordered:
    """The order on a machine that can do everything, by a goal of SINGLE_MACHINE."""
    return order(tasks_of(case, single_machine=True), SINGLE_MACHINE[goal], max_states=MAX_STATES)


def tasks_of(case: Case, single_machine: bool = False) -> list[Task]:
    """Operations as tasks, alternatives as groups."""
    groups = {name: "|".join(group) for group in case["alternatives"] for name in group}
    return [
        Task(name, tuple(_hands(case, op, single_machine)), frozenset(op["after"]), groups.get(name, ""))
        for name, op in case["operations"].items()
    ]


def _hands(case: Case, op: Case, single_machine: bool) -> list[tuple[Hand, float]]:
    if single_machine:
        return [(Hand("m", tad, tool), 0.0) for tad in op["tads"] for tool in op["tools"]]
    return [
        (Hand(machine, tad, tool), _cost(case, op, machine, tool))
        for machine in op["machines"]
        for tad in op["tads"]
        for tool in op["tools"]
    ]


def _cost(case: Case, op: Case, machine: str, tool: str) -> float:
    if case["objective"] == "time":
        return float(op["time_per_machine"][op["machines"].index(machine)])
    return float(case["muc"][machine] + case["tuc"][tool])


def costs_of(case: Case) -> Costs:
    """What a change costs in this case."""
    if case["objective"] == "time":
        return Costs(case["mct"], case["sct"], case["tct"])
    return Costs(case["mcc"], case["scc"], case["tcc"])


def holds(case: Case, found: Ordered) -> bool:
    """Whether the order keeps precedence; what was not chosen of its alternatives binds nobody."""
    place = {name: i for i, (name, _) in enumerate(found.steps)}
    return all(
        place[before] < place[name]
        for name, op in case["operations"].items()
        if name in place
        for before in op["after"]
        if before in place
    )
