"""The sequencing search finds the optima of four process-planning problems from the literature.

Source of the problems: `../shared/benchmarks/sequencing/cases.json`, each case naming its paper; the optima there were
computed exactly by another program than ours. Skipped where that folder is missing.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from planner.sequence import Costs, Hand, Task, order

CASES = Path(__file__).resolve().parents[3] / "shared" / "benchmarks" / "sequencing" / "cases.json"
pytestmark = pytest.mark.skipif(not CASES.exists(), reason=f"{CASES} is not on this machine")


def cases():
    return json.loads(CASES.read_text()) if CASES.exists() else []


def tasks_of(case, single_machine=False):
    groups = {name: "|".join(group) for group in case["alternatives"] for name in group}
    return [
        Task(name, tuple(hands(case, op, single_machine)), frozenset(op["after"]), groups.get(name, ""))
        for name, op in case["operations"].items()
    ]


def hands(case, op, single_machine):
    if single_machine:
        return [(Hand("m", tad, tool), 0.0) for tad in op["tads"] for tool in op["tools"]]
    return [
        (Hand(machine, tad, tool), cost(case, op, machine, tool))
        for machine in op["machines"]
        for tad in op["tads"]
        for tool in op["tools"]
    ]


def cost(case, op, machine, tool):
    if case["objective"] == "time":
        return op["time_per_machine"][op["machines"].index(machine)]
    return case["muc"][machine] + case["tuc"][tool]


def costs_of(case):
    if case["objective"] == "time":
        return Costs(case["mct"], case["sct"], case["tct"])
    return Costs(case["mcc"], case["scc"], case["tcc"])


def holds(case, found):
    place = {name: i for i, (name, _) in enumerate(found.steps)}
    return all(
        place[before] < place[name]
        for name, op in case["operations"].items()
        if name in place
        for before in op["after"]
        if before in place
    )


@pytest.mark.parametrize("case", cases(), ids=lambda c: f"case {c['case']}")
def test_published_optimum_is_found_and_proven(case):
    want = case["exact_optimum_computed_here"]
    found = order(tasks_of(case), costs_of(case), max_states=400_000)
    assert found.optimal and holds(case, found)
    assert found.cost == pytest.approx(want["objective"])
    assert found.changes == {kind: want[f"{kind}_changes"] for kind in ("machine", "setup", "tool")}


@pytest.mark.parametrize("case", cases(), ids=lambda c: f"case {c['case']}")
def test_single_machine_setups_first_and_tools_first(case):
    for name, costs in (("setups_first", Costs(0, 1000, 1)), ("tools_first", Costs(0, 1, 1000))):
        found = order(tasks_of(case, single_machine=True), costs, max_states=400_000)
        assert found.optimal and holds(case, found)
        want = case["single_machine"][name]
        assert (found.changes["setup"] + 1, found.changes["tool"]) == (want["setups"], want["tool_changes"])
