"""A batch from its sources to its table."""

from __future__ import annotations

import os
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path, PurePosixPath

from service.batch.display import Display
from service.batch.ledger import Ledger, Result
from service.batch.local import run_local
from service.batch.outcome import Outcome, Task, told
from service.batch.rows import row_of
from service.batch.sources import Source, sources_of
from service.batch.table import write_tables
from service.study import Study
from service.worker import Limits
from shared.errors import SidewiseError, UsageError


@dataclass(frozen=True)
class Asked:
    """How a batch is to be run. scheduler: address of a Dask scheduler, or empty for processes of this machine."""

    out: Path
    workers: int
    scheduler: str = ""
    max_bytes: int = 200_000_000
    retry_errors: bool = False


class Batch:
    """One run: reads what is to be done, skips what is done, keeps every result as it comes."""

    def __init__(self, paths: list[str], study: Study, limits: Limits, asked: Asked) -> None:
        self._sources = sources_of(paths)
        self._study, self._limits, self._asked = study, limits, asked
        self._stamp = study.fingerprint()
        self._ledger = Ledger(_made(asked.out))
        self._results: dict[str, Result] = {}
        self.total = len(self._sources)
        self.skipped = 0

    def run(self) -> list[Result]:
        """All results in the order of the sources. When interrupted, the tables hold what was finished.

        Raises UsageError where the disk is full; what was finished is kept.
        """
        try:
            with Display(self.total) as display:
                self._work(display)
        except OSError as error:
            raise UsageError(
                f"A result cannot be written: {error.strerror}.", "Free some space; the same command goes on from here."
            ) from None
        finally:
            self._write_tables()
        return self.results

    @property
    def results(self) -> list[Result]:
        """What is finished so far, in the order of the sources."""
        return [self._results[s.key] for s in self._sources if s.key in self._results]

    def _work(self, display: Display) -> None:
        tasks = self._tasks(display)
        if self._asked.scheduler:
            from service.batch.cluster import run_on_cluster

            outcomes = run_on_cluster(tasks, self._study, self._limits, self._asked.scheduler)
        else:
            outcomes = run_local(tasks, self._study, self._limits, self._asked.workers)
        for outcome in outcomes:
            self._keep(outcome)
            display.step(outcome.error is not None)

    def _tasks(self, display: Display) -> Iterator[Task]:
        """What has to be worked on; what is done already, or cannot be read, is settled on the way."""
        for source in self._sources:
            try:
                data = source.read(self._asked.max_bytes)
            except SidewiseError as error:
                self._keep(Outcome(source.key, "", error=told(error)))
                display.step(True)
                continue
            digest = sha256(data).hexdigest()
            found = self._ledger.find(source.key, digest, self._stamp)
            if found and not (found.error and self._asked.retry_errors):
                self._results[source.key] = found
                self.skipped += 1
                display.step(found.error is not None, found=True)
                continue
            yield Task(source.key, _file_name(source), digest, data)

    def _keep(self, outcome: Outcome) -> None:
        row = row_of(outcome.documents) if outcome.documents else {}
        result = Result(outcome.key, outcome.sha256, self._stamp, row, outcome.error)
        self._ledger.keep(result, outcome.documents)
        self._results[outcome.key] = result

    def _write_tables(self) -> None:
        try:
            write_tables(self.results, self._asked.out)
        except OSError as error:
            print(f"Note: the tables cannot be written: {error.strerror}.", file=sys.stderr)


def _made(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"The folder {folder} cannot be made: {error.strerror}.", "Choose another.", "--out") from None
    if not os.access(folder, os.W_OK):
        raise UsageError(f"Nothing can be written in {folder}.", "Check its permissions.", "--out")
    return folder


def _file_name(source: Source) -> str:
    return PurePosixPath(source.key).name


def summary(results: list[Result], skipped: int, total: int, out: Path) -> str:
    """What came of a batch, in a few lines."""
    errors = Counter(r.error["code"] for r in results if r.error)
    done = len(results) - errors.total()
    lines = [f"{done} of {total} parts done, {errors.total()} ended in an error, {skipped} were done before."]
    lines += [f"  {count} x {code}" for code, count in sorted(errors.items())]
    lines.append(f"Table: {out / 'table.csv'} and table.parquet; documents in {out / 'parts'}.")
    return "\n".join(lines)
