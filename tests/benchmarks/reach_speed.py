"""How long reach takes (all faces, six main directions, ten cutters), as a ratio to the kernel's plain read of the same file.

    python -m tests.benchmarks.reach_speed ../shared/benchmarks/mfcad ../shared/benchmarks/nist --plates 100 1000

Reach alone: the part is read and recognised before. CPU time of one process, the two measured in turn on each file, the
fastest of a few runs. Nothing here passes or fails.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from math import log
from pathlib import Path
from typing import Any

from recognizer.access import reach_of_snapshot
from recognizer.frame import frame_of
from recognizer.pipeline import read_part
from tests.benchmarks.plates import write_plate
from tests.benchmarks.speed import files_of, plain_read


def main() -> int:
    """Prints ratios by dataset, and how reach grows with plates."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.reach_speed", description=__doc__)
    parser.add_argument("paths", nargs="*", type=Path, metavar="PATH", help="STEP files, folders or zips of them")
    parser.add_argument("--sample", type=int, default=15)
    parser.add_argument("--repeat", type=int, default=2)
    parser.add_argument("--plates", nargs="*", type=int, default=[], metavar="FACES")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        for path in options.paths:
            rows = [_measured(f, options.repeat) for f in files_of(path, Path(scratch), options.sample)]
            _report(path.name, rows)
        previous: tuple[int, float] | None = None
        for size in options.plates:
            file, faces = write_plate(size, Path(scratch))
            read, took, _ = _measured(file, 1)
            growth = f", growth power {log(took / previous[1]) / log(faces / previous[0]):.2f}" if previous else ""
            print(
                f"plate of {faces} faces: read {read:.2f} s, reach {took:.2f} s, ratio {took / read:.2f}{growth}",
                flush=True,
            )
            previous = faces, took
    return 0


def _measured(file: Path, repeat: int) -> tuple[float, float, str]:
    snapshot, features = read_part(file)
    sides = frame_of(snapshot).directions
    runs = [
        (_seconds(lambda: plain_read(str(file))), _seconds(lambda: reach_of_snapshot(snapshot, features, None, sides)))
        for _ in range(repeat)
    ]
    return min(r for r, _ in runs), min(w for _, w in runs), file.name


def _seconds(call: Callable[[], Any]) -> float:
    begin = time.process_time()
    call()
    return time.process_time() - begin


def _report(name: str, rows: list[tuple[float, float, str]]) -> None:
    if not rows:
        print(f"{name}: no STEP files")
        return
    found = sorted(w / r for r, w, _ in rows)
    worst = max(rows, key=lambda row: row[1] / row[0])
    print(
        f"{name}: {len(rows)} files, reach / plain read: median {statistics.median(found):.2f}, least {found[0]:.2f}, "
        f"most {found[-1]:.2f} ({worst[2]}); median read {1000 * statistics.median(r for r, _, _ in rows):.1f} ms, "
        f"reach {1000 * statistics.median(w for _, w, _ in rows):.1f} ms",
        flush=True,
    )


if __name__ == "__main__":
    sys.exit(main())
