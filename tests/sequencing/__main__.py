"""Published process-planning problems, solved: costs, changes and whether they are proven, beside what the file expects.

    python -m tests.sequencing ../shared/benchmarks/sequencing/cases.json

Takes any file of the same form. Ends with 1 where a result is not proven or differs from the file's.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from planner.tasks import Ordered
from tests.sequencing.cases import SINGLE_MACHINE, Case, holds, on_one_machine, optimum, read_cases


def main() -> int:
    """Prints a line a result. Returns 0 where all agree, else 1."""
    parser = argparse.ArgumentParser(prog="python -m tests.sequencing", description=__doc__)
    parser.add_argument("file", type=Path)
    right = [_shown(case) for case in read_cases(parser.parse_args().file)]
    print(f"{sum(right)} of {len(right)} cases as expected")
    return 0 if all(right) else 1


def _shown(case: Case) -> bool:
    """Prints a case's results; whether they are proven, keep precedence and agree with what the file expects, if it does."""
    print(f"case {case['case']}: {case.get('source', 'no source')}, {len(case['operations'])} operations")
    right = _line(case, "all machines", optimum(case), case.get("exact_optimum_computed_here"))
    for goal in SINGLE_MACHINE:
        right &= _line(case, goal, on_one_machine(case, goal), case.get("single_machine", {}).get(goal))
    return right


def _line(case: Case, what: str, found: Ordered, want: dict[str, float] | None) -> bool:
    got = {"objective": found.cost, "setups": found.changes["setup"] + 1}
    got |= {f"{kind}_changes": n for kind, n in found.changes.items()}
    said = "" if want is None else f"; the file expects {want}"
    print(f"  {what}: {got}, {'proven' if found.optimal else f'at least {found.lower_bound:g}'}{said}")
    agrees = want is None or all(abs(got[key] - value) < 1e-6 for key, value in want.items())
    return found.optimal and holds(case, found) and agrees


if __name__ == "__main__":
    sys.exit(main())
