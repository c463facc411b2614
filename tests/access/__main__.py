"""Reach against the slow oracle: python -m tests.access [--random N] [--skip N] PART.step ...

Prints every disagreement beyond the oracle's resolution, and how many comparisons were made. Minutes for many parts.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests.access.compare import disagreements


def main() -> int:
    """0 where all agree, 1 where not."""
    parser = argparse.ArgumentParser(prog="python -m tests.access", description=__doc__)
    parser.add_argument("parts", nargs="*", type=Path, metavar="PART.step")
    parser.add_argument(
        "--random", type=int, default=0, metavar="N", help="so many random parts with truth by construction"
    )
    parser.add_argument("--skip", type=int, default=0, metavar="N", help="so many of them are done already")
    parser.add_argument("--sides", type=int, default=6)
    options = parser.parse_args()
    bad = total = parts = 0
    for name, solid in _solids(options.parts, options.random, options.skip):
        begin = time.process_time()
        try:
            found, count = disagreements(solid, sides=options.sides)
        except Exception as error:  # a benchmark goes on
            found, count = [f"failed: {type(error).__name__}: {error}"], 1
        parts, bad, total = parts + 1, bad + len(found), total + count
        print(f"{name}: {len(found)} of {count} disagree, {time.process_time() - begin:.1f} s", flush=True)
        for text in found:
            print("   ", text)
    print(f"{parts} parts, {total} comparisons, {bad} disagreements ({bad / max(total, 1):.2%})")
    return int(bad > 0)


def _solids(parts: list[Path], random: int, skip: int) -> Iterator[tuple[str, Any]]:
    from recognizer.kernel.read import read_solid

    for path in parts:
        yield path.name, read_solid(path).shape
    if random:
        from tests.random_parts.cases import CASES, build

        names = sorted(CASES)
        for i in range(skip, random):
            name, seed = names[i % len(names)], i // len(names)
            yield f"{name} {seed}", build(name, seed).shape.wrapped


if __name__ == "__main__":
    sys.exit(main())
