"""The sequencing search finds the optima of four process-planning problems from the literature.

Source of the problems: `../shared/benchmarks/sequencing/cases.json`, each case naming its paper; the optima there were
computed exactly by another program than ours. Skipped where that folder is missing.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.sequencing.cases import SINGLE_MACHINE, holds, on_one_machine, optimum, read_cases

CASES = Path(__file__).resolve().parents[3] / "shared" / "benchmarks" / "sequencing" / "cases.json"
pytestmark = pytest.mark.skipif(not CASES.exists(), reason=f"{CASES} is not on this machine")
each_case = pytest.mark.parametrize(
    "case", read_cases(CASES) if CASES.exists() else [], ids=lambda c: f"case {c['case']}"
)


@each_case
def test_published_optimum_is_found_and_proven(case):
    want = case["exact_optimum_computed_here"]
    found = optimum(case)
    assert found.optimal and holds(case, found)
    assert found.cost == pytest.approx(want["objective"])
    assert found.changes == {kind: want[f"{kind}_changes"] for kind in ("machine", "setup", "tool")}


@each_case
@pytest.mark.parametrize("goal", SINGLE_MACHINE)
def test_single_machine_setups_first_and_tools_first(case, goal):
    found = on_one_machine(case, goal)
    assert found.optimal and holds(case, found)
    want = case["single_machine"][goal]
    assert (found.changes["setup"] + 1, found.changes["tool"]) == (want["setups"], want["tool_changes"])
