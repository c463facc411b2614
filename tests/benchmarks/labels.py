"""Scores the recognizer on labelled parts.

    python -m tests.benchmarks.labels ../shared/benchmarks/mfcad2 --group-by-prefix --list-failures

PATH is a directory (or zip) of labelled STEP parts, see `dataset.py`. The output order depends on the parts alone,
not on which worker was faster.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
import time
from itertools import groupby
from pathlib import Path

from tests.benchmarks import pool, report, scores
from tests.benchmarks.dataset import Case, NoLabels, load

LABELLED = "tests.benchmarks.dataset:recognize_labelled"


def main(arguments: list[str] | None = None) -> int:
    """Prints one report for each path (and group). Returns 0, or 2 where a path or the recognizer cannot be used."""
    options = _options(arguments)
    try:
        pool.find(options.recognizer)
    except ImportError as e:
        print(f"{e}\nThe recognizer is not there yet; --recognizer MODULE:FUNCTION uses another.", file=sys.stderr)
        return 2
    results = {}
    for path in options.paths:
        with tempfile.TemporaryDirectory() as scratch:
            try:
                cases = load(path, Path(scratch), options.limit)
            except NoLabels as e:
                print(e, file=sys.stderr)
                return 2
            if options.only:
                cases = [c for c in cases if c.stem in options.only]
            results.update(_measure(path, cases, options))
    if options.json:
        options.json.write_text(json.dumps(results, indent=1) + "\n")
    return 0


def _options(arguments: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.labels", description=__doc__)
    parser.add_argument("paths", nargs="+", type=Path, metavar="PATH")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--limit", type=int, help="only the first N parts by name")
    parser.add_argument("--only", nargs="+", metavar="STEM", help="only these parts")
    parser.add_argument("--timeout", type=float, default=60.0, help="seconds a part may take")
    parser.add_argument("--group-by-prefix", action="store_true", help="report stems by their first letter apart")
    parser.add_argument("--list-failures", action="store_true", help="show each wrong face of each failing part")
    parser.add_argument("--json", type=Path, metavar="OUT", help="write the figures as JSON")
    parser.add_argument("--recognizer", default=LABELLED, metavar="MODULE:FUNCTION")
    return parser.parse_args(arguments)


def _measure(path: Path, cases: list[Case], options: argparse.Namespace) -> dict:
    begin = time.perf_counter()
    answers = pool.run([c.path for c in cases], options.recognizer, options.workers, options.timeout)
    seconds = time.perf_counter() - begin
    parts = [scores.part_score(c, a) for c, a in zip(cases, answers, strict=True)]
    groups = {"all": parts}
    if options.group_by_prefix:
        by_letter = sorted(parts, key=lambda p: p.stem[:1])
        groups |= {f"prefix {k}": list(g) for k, g in groupby(by_letter, key=lambda p: p.stem[:1])}
    results = {}
    for name, members in groups.items():
        title = f"{path.name}: {name}"
        results[title] = report.figures(members)
        print(report.text(title, members, details=name == "all"))
    print(report.failures(parts, options.list_failures))
    slow = sorted(zip((a.seconds for a in answers), (c.stem for c in cases), strict=True), reverse=True)[:3]
    slowest = ", ".join(f"{stem} {s:.2f} s" for s, stem in slow)
    print(
        f"time: {seconds:.1f} s for {len(cases)} parts with {options.workers} workers; slowest {slowest}",
        file=sys.stderr,
    )
    return results


if __name__ == "__main__":
    sys.exit(main())
