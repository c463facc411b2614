"""Recognises seeded random parts and says in what each differs from what was cut.

python -m tests.random_parts --cases all --seeds 5
python -m tests.random_parts --cases obround tee_slot --changes turned split_faces
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.benchmarks import pool
from tests.random_parts.cases import CASES, build
from tests.random_parts.changes import CHANGES, changed
from tests.random_parts.truth import differences


def main(arguments: list[str] | None = None) -> int:
    """Prints how many parts of each case are exactly right, and the differences. Returns 0 if all are, 1 if not."""
    parser = argparse.ArgumentParser(prog="python -m tests.random_parts", description=__doc__)
    parser.add_argument("--cases", nargs="+", default=["all"], choices=["all", *CASES], metavar="CASE")
    parser.add_argument("--changes", nargs="+", default=["unchanged"], choices=["all", *CHANGES], metavar="CHANGE")
    parser.add_argument("--seeds", type=int, default=5)
    parser.add_argument("--keep", type=Path, metavar="DIR", help="keep the STEP files there")
    parser.add_argument("--recognizer", default=pool.DEFAULT_RECOGNIZER, metavar="MODULE:FUNCTION")
    options = parser.parse_args(arguments)
    try:
        recognize = pool.find(options.recognizer)
    except ImportError as e:
        print(e, file=sys.stderr)
        return 2
    cases = list(CASES) if "all" in options.cases else options.cases
    changes = list(CHANGES) if "all" in options.changes else options.changes
    right = total = 0
    with tempfile.TemporaryDirectory() as scratch:
        for case in cases:
            for change in changes:
                folder = (options.keep or Path(scratch)) / case
                folder.mkdir(parents=True, exist_ok=True)
                results = [_differences(case, seed, change, folder, recognize) for seed in range(options.seeds)]
                good = sum(not r for r in results)
                right, total = right + good, total + len(results)
                print(f"{case:22} {change:12} {good} of {len(results)} exactly right", flush=True)
                for seed, result in enumerate(results):
                    for line in result:
                        print(f"    seed {seed}: {line}")
    print(f"{right} of {total} parts exactly right")
    return 0 if right == total else 1


def _differences(case: str, seed: int, change: str, folder: Path, recognize: Callable[[str], Any]) -> list[str]:
    path, truth = changed(build(case, seed), change, seed, folder)
    try:
        return differences(recognize(str(path)), truth)
    except Exception as e:  # noqa: BLE001 - whatever a part raises is that part's result
        return [f"{type(e).__name__}: {e}"]


if __name__ == "__main__":
    sys.exit(main())
