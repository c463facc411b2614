"""How many parts a minute two workers get through: features alone, and features and plan, beside plain reads.

    python -m tests.benchmarks.throughput ../shared/benchmarks/mfcad --count 200
    python -m tests.benchmarks.throughput ../shared/benchmarks/mfcad --memory 2000

The plain read is ReadFile and TransferRoots with the kernel's own settings, in as many processes. All three take the
same parts in turn, a batch at a time, in processes that stay alive: what loads the machine slows all of them. With
--memory one worker makes features and plans (with --features: no plans) of that many parts, round and round, and its
memory is printed on the way.
Nothing here passes or fails.
"""

from __future__ import annotations

import argparse
import os
import resource
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from itertools import cycle, islice
from pathlib import Path
from typing import Any

from service.run import Asked, job_from
from service.study import Study, features_text, study_of, study_part
from service.worker import Limits, Worker
from shared.errors import SidewiseError
from tests.benchmarks.speed import files_of, plain_read

LIMITS = Limits(120, 4)
BATCH = 40
"""Parts that one way takes before it is the next one's turn."""
PAGE_KB = resource.getpagesize() // 1024


def main(arguments: list[str] | None = None) -> int:
    """Prints rates and their ratios to plain reads, or a worker's memory. Returns 0, or 2 without STEP files."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.throughput", description=__doc__)
    parser.add_argument("path", type=Path, help="a STEP file, a folder or a zip of them")
    parser.add_argument("--count", type=int, default=200, help="parts, evenly spaced by name")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--memory", type=int, metavar="PARTS", help="watch one worker's memory over so many parts")
    parser.add_argument("--features", action="store_true", help="with --memory: features only, no plans")
    options = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as scratch:
        files = files_of(options.path, Path(scratch), options.count)
        if not files:
            print(f"{options.path}: no STEP files", file=sys.stderr)
            return 2
        if options.memory:
            _watch_memory(files, options.memory, Study() if options.features else study_of(job_from(Asked())))
        else:
            _side_by_side(files, options.workers)
    return 0


def read_only(path: str) -> None:
    """A plain read, in a worker."""
    plain_read(path)


def features_only(path: str) -> int:
    """Length of the features document, in a worker."""
    return len(features_text(Path(path).read_bytes(), Path(path).name))


def features_and_plan(path: str, study: Study) -> int:
    """Length of both documents, in a worker."""
    return sum(map(len, study_part(Path(path).read_bytes(), Path(path).name, study).values()))


def memory_after(path: str, study: Study) -> int:
    """MB of memory that the worker holds once it is done with a part."""
    features_and_plan(path, study)
    return int(Path(f"/proc/{os.getpid()}/statm").read_text().split()[1]) * PAGE_KB // 1024


def _side_by_side(files: list[Path], workers: int) -> None:
    study = study_of(job_from(Asked()))
    ways: dict[str, tuple[Callable[..., Any], tuple[Any, ...]]] = {
        "plain reads": (read_only, ()),
        "features": (features_only, ()),
        "features and plan": (features_and_plan, (study,)),
    }
    pools = {name: Worker(LIMITS, workers, preload=True) for name in ways}
    spent = dict.fromkeys(ways, 0.0)
    for name, (task, more) in ways.items():  # warm up: what is loaded once is not counted
        _run(pools[name], task, files[: 2 * workers], more)
    for batch in _batches(files):
        for name, (task, more) in ways.items():
            spent[name] += _run(pools[name], task, batch, more)
    for pool in pools.values():
        pool.__exit__()
    for name, seconds in spent.items():
        rate, ratio = 60 * len(files) / seconds, spent["plain reads"] / seconds
        print(f"{name}: {rate:.0f} parts a minute with {workers} workers, {ratio:.2f} of the plain reads' rate")


def _batches(files: list[Path]) -> Iterator[list[Path]]:
    for k in range(0, len(files), BATCH):
        yield files[k : k + BATCH]


def _run(pool: Worker, task: Callable[..., Any], files: list[Path], more: tuple[Any, ...]) -> float:
    """Seconds in which a pool gets through some files."""
    began = time.perf_counter()
    for future in [pool.start(task, str(f), *more) for f in files]:
        _result(future)
    return time.perf_counter() - began


def _result(future: Any) -> Any:
    try:
        return future.result()
    except SidewiseError as error:  # a part that is refused takes its time too
        print(f"{error.code}: {error}", file=sys.stderr)
        return None


def _watch_memory(files: list[Path], parts: int, study: Study) -> None:
    with Worker(LIMITS, 1, preload=True) as worker:
        for done, path in enumerate(islice(cycle(files), parts), 1):
            held = _result(worker.start(memory_after, str(path), study))
            if done in (1, 10, 50) or done % max(1, parts // 20) == 0:
                print(f"after {done} parts: {held} MB", flush=True)


if __name__ == "__main__":
    sys.exit(main())
