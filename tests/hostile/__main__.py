"""Works through thousands of spoilt STEP files and says what became of them.

    python -m tests.hostile --count 3000 --workers 2

Every one must end in a result or in an error with a code and a hint: exit code 1 if one does not, or if a plan was
made of a solid that a second look (the kernel's own full check of validity, closed shells, volume, crossing faces)
finds unsound or of another volume. --keep DIR keeps those files.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

from service.batch.local import run_local
from service.batch.outcome import Outcome, Task
from service.run import Asked, job_from
from service.study import study_of
from service.worker import Limits, Worker
from shared.errors import SidewiseError
from tests.hostile.mutations import MUTATIONS, mutant
from tests.hostile.parts import good_texts
from tests.hostile.second_look import unsound


def main() -> int:
    """Runs the mutants. Returns 0, or 1 where one of them got through."""
    parser = argparse.ArgumentParser(prog="python -m tests.hostile", description=__doc__)
    parser.add_argument("--count", type=int, default=3000)
    parser.add_argument("--first", type=int, default=0, help="number of the first mutant")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seconds", type=float, default=20, help="limit of one file")
    parser.add_argument("--keep", type=Path, help="folder for the files that got through")
    options = parser.parse_args()
    limits = Limits(options.seconds, 2)
    names: dict[str, str] = {}
    sound: dict[str, bytes] = {}
    files: dict[str, bytes] = {}
    wrong, counts, began = [], Counter(), time.monotonic()

    def tasks() -> Iterator[Task]:
        texts = good_texts()
        for n in range(options.first, options.first + options.count):
            text = texts[n // len(MUTATIONS) % len(texts)]
            name, data = mutant(text, n)
            key = f"{n:05d}_{name}.step"
            names[key], files[key], sound[key] = name, data, text.encode()
            yield Task(key, key, sha256(data).hexdigest(), data)

    with Worker(limits, preload=True) as second:
        for outcome in run_local(tasks(), study_of(job_from(Asked())), limits, options.workers):
            data = files.pop(outcome.key)
            fault = _fault(outcome, data, sound.pop(outcome.key), second)
            counts[names[outcome.key], outcome.error["code"] if outcome.error else "planned"] += 1
            if fault:
                wrong.append(f"{outcome.key}: {fault}")
                if options.keep:
                    options.keep.mkdir(parents=True, exist_ok=True)
                    (options.keep / outcome.key).write_bytes(data)
    _print(counts, wrong, time.monotonic() - began)
    return 1 if wrong else 0


def _fault(outcome: Outcome, data: bytes, sound: bytes, second: Worker) -> str | None:
    """What is wrong with an outcome, or None.

    Plain parts are read and planned from the text alone. Where the kernel does not survive such a file, for what the text
    says beside its solid, the plan is right if it is of the solid that the file was before it was spoilt.
    """
    if outcome.error:
        if outcome.error["code"] == "internal_error":
            return f"{outcome.error['message']} at {outcome.error['where']}"
        return None if outcome.error["message"] and outcome.error["hint"] else "an error without a message or a hint"
    volume = json.loads(outcome.documents["features"])["part"]["volume"]
    try:
        found = second.start(unsound, data, volume).result()
    except SidewiseError as error:
        before = second.start(unsound, sound, volume).result()
        found = (
            f"the second look did not survive it: {error.message} And of the part it was: {before}" if before else None
        )
    return f"a plan was made, yet {found}" if found else None


def _print(counts: Counter[tuple[str, str]], wrong: list[str], seconds: float) -> None:
    codes = sorted({code for _, code in counts})
    print(f"{'mutation':20}" + "".join(f"{code:>16}" for code in codes))
    for name in sorted({name for name, _ in counts}):
        print(f"{name:20}" + "".join(f"{counts[name, code]:16}" for code in codes))
    print(f"{'all':20}" + "".join(f"{sum(n for (_, c), n in counts.items() if c == code):16}" for code in codes))
    print(f"{sum(counts.values())} files in {seconds:.0f} s; {len(wrong)} got through")
    for line in wrong:
        print("  " + line)


if __name__ == "__main__":
    sys.exit(main())
