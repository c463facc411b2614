"""Parts studied by worker processes of this machine."""

from __future__ import annotations

import concurrent.futures
from collections import deque
from collections.abc import Iterable, Iterator

from service.batch.outcome import Outcome, Task, failed, studied
from service.errors import DISK_ERRORS
from service.study import Study, study_part
from service.worker import Future, Limits, Worker
from shared.errors import KernelKilled

AHEAD = 2
"""Tasks handed out a worker: one under way and one waiting, so that no worker idles and few bytes wait in memory."""


def run_local(tasks: Iterable[Task], study: Study, limits: Limits, workers: int) -> Iterator[Outcome]:
    """Outcomes in the order in which they are ready. A crash, a hang or a hunger costs its own part only.

    A part whose process was killed from outside is tried once more. Raises OSError where the disk is full: that says
    nothing about the part.
    """
    waiting = iter(tasks)
    again: deque[Task] = deque()
    tried: set[str] = set()
    running: dict[concurrent.futures.Future, tuple[Task, Future]] = {}
    with Worker(limits, processes=workers, preload=True) as worker:
        while True:
            while len(running) < AHEAD * workers:
                task = again.popleft() if again else next(waiting, None)
                if task is None:
                    break
                future = worker.start(study_part, task.data, task.name, study)
                running[future.raw] = (task, future)
            if not running:
                return
            done, _ = concurrent.futures.wait(running, return_when=concurrent.futures.FIRST_COMPLETED)
            for raw in done:
                task, future = running.pop(raw)
                try:
                    yield studied(task, future.result())
                except KernelKilled as error:
                    if task.key in tried:
                        yield failed(task, error)
                    else:
                        tried.add(task.key)
                        again.append(task)
                except Exception as error:
                    if isinstance(error, OSError) and error.errno in DISK_ERRORS:
                        raise
                    yield failed(task, error)
