"""Recognises parts as they are and changed, and says which features that loses or makes.

python -m tests.invariants models ../shared/benchmarks/nist --sample 20
python -m tests.invariants part.step --changes turned as_splines
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np

from recognizer import recognize
from tests.benchmarks.dataset import STEP_ENDINGS
from tests.invariants.compare import block_of, differences
from tests.random_parts.changes import CHANGES


def main(arguments: list[str] | None = None) -> int:
    """Prints the differences and the count of each change. Returns 0 if there are none, 1 if there are."""
    parser = argparse.ArgumentParser(prog="python -m tests.invariants", description=__doc__)
    parser.add_argument("paths", nargs="+", type=Path, metavar="PATH", help="STEP files, or folders of them")
    parser.add_argument("--changes", nargs="+", default=["all"], choices=["all", *CHANGES], metavar="CHANGE")
    parser.add_argument("--sample", type=int, default=1000, help="files of each folder, evenly spaced by name")
    options = parser.parse_args(arguments)
    changes = sorted(CHANGES) if "all" in options.changes else options.changes
    kept: Counter[str] = Counter()
    files = [f for path in options.paths for f in _files(path, options.sample)]
    for path in files:
        for change in changes:
            found = _after(path, change)
            kept[change] += not found
            for line in found:
                print(f"{path.stem} {change}: {line}", flush=True)
    for change in changes:
        print(f"{change:12} {kept[change]} of {len(files)} parts keep their features")
    return 0 if sum(kept.values()) == len(files) * len(changes) else 1


def _files(path: Path, sample: int) -> list[Path]:
    if path.is_file():
        return [path]
    found = sorted(f for f in path.rglob("*") if f.suffix.lower() in STEP_ENDINGS)
    return found[:: max(1, len(found) // sample)][:sample]


def _after(path: Path, change: str) -> list[str]:
    with tempfile.TemporaryDirectory() as scratch:
        changed = Path(scratch) / path.name
        try:
            CHANGES[change](block_of(path), np.random.RandomState(7), changed)
            return differences(recognize(path), recognize(changed))
        except Exception as e:  # noqa: BLE001 - whatever a part raises is that part's result
            return [f"{type(e).__name__}: {e}"]


if __name__ == "__main__":
    raise SystemExit(main())
