"""Parts studied on a Dask cluster, each in a process of its own beside the cluster's worker.

The kernel may crash or hang on a file. Inside a cluster's worker that would take its neighbours along, so each worker
keeps processes of ours (service/worker.py), and only those die. The cluster's worker must be allowed to start
processes: setting `distributed.worker.daemon: False`.
"""

from __future__ import annotations

import atexit
import logging
import multiprocessing
import threading
from collections.abc import Iterable, Iterator
from typing import Any

from service.batch.outcome import Outcome, Task, failed, studied, told
from service.study import Study, study_part
from service.worker import Limits, Worker
from shared.errors import SidewiseError, UsageError

AHEAD = 3
"""Tasks handed out a thread of the cluster: enough that none waits for the network."""
RETRIES = 3
"""Times that a part is given to another worker when its worker is lost."""
CONNECT_S = 20
WORKERS_S = 60
"""Seconds that a scheduler without workers is given for the first to come."""


class ClusterLost(SidewiseError):
    """The scheduler went away, or all workers did."""

    code = "cluster_lost"


def run_on_cluster(tasks: Iterable[Task], study: Study, limits: Limits, address: str) -> Iterator[Outcome]:
    """Outcomes in the order in which they are ready. Raises UsageError where no scheduler answers, ClusterLost where
    it goes away on the way; what was finished by then has been given out."""
    from distributed import Client, as_completed

    for name in ("distributed", "distributed.client", "distributed.comm", "tornado", "asyncio"):
        logging.getLogger(name).setLevel(logging.CRITICAL + 1)  # what matters is raised, and said in our words
    try:
        client = Client(address, timeout=CONNECT_S, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise UsageError(f"No Dask scheduler answers at {address}.", str(error), "--scheduler") from None
    with client, client.as_current():
        shared = _shared(client, study, address)
        waiting = iter(tasks)
        asked: dict[str, Task] = {}
        queue = as_completed()

        def hand_out() -> None:
            room = AHEAD * max(1, sum(client.nthreads().values()))
            while len(asked) < room and (task := next(waiting, None)) is not None:
                future = client.submit(
                    study_on_cluster, task.data, task.name, shared, limits, key=f"{task.key}-{task.sha256[:12]}",
                    retries=RETRIES, pure=False,
                )  # fmt: skip
                asked[str(future.key)] = task
                queue.add(future)

        hand_out()
        while asked:
            future = next(queue)
            yield _outcome(asked.pop(str(future.key)), future, client)
            hand_out()


def _shared(client: Any, study: Study, address: str) -> Any:
    """The study on every worker. Raises UsageError where no worker comes, ClusterLost where the scheduler goes away."""
    try:
        client.wait_for_workers(1, timeout=WORKERS_S)
    except TimeoutError:
        raise UsageError(
            f"The Dask scheduler at {address} has no workers.",
            f"Start one: DASK_DISTRIBUTED__WORKER__DAEMON=False dask worker {address}",
            "--scheduler",
        ) from None
    try:
        return client.scatter(study, broadcast=True)
    except (OSError, TimeoutError) as error:
        raise _gone() from error


def _gone() -> ClusterLost:
    return ClusterLost("The Dask scheduler went away.", "Start it and run the same command: it goes on.")


def _outcome(task: Task, future: Any, client: Any) -> Outcome:
    from distributed.client import FutureCancelledError
    from distributed.scheduler import KilledWorker

    try:
        answer = future.result()
    except (FutureCancelledError, KilledWorker, OSError, TimeoutError) as error:
        if client.status != "running" or isinstance(error, FutureCancelledError):
            raise _gone() from None
        return failed(task, error)
    if "error" in answer:
        return Outcome(task.key, task.sha256, error=answer["error"])
    return studied(task, answer)


_lock = threading.Lock()
_workers: dict[tuple[Limits, int], Worker] = {}


def study_on_cluster(data: bytes, name: str, study: Study, limits: Limits) -> dict[str, Any]:
    """Documents of a part, or its error as plain data under 'error'. Runs in a thread of the cluster's worker."""
    try:
        return dict(_worker(limits).start(study_part, data, name, study).result())
    except Exception as error:
        return {"error": told(error)}


def _worker(limits: Limits) -> Worker:
    """This process's own worker processes, one a thread, started at the first task."""
    from distributed import get_worker

    if multiprocessing.current_process().daemon:
        raise UsageError(
            "The Dask worker may not start processes of its own.",
            "Start it with DASK_DISTRIBUTED__WORKER__DAEMON=False, or with --no-nanny.",
        )
    key = (limits, get_worker().state.nthreads)
    with _lock:
        if key not in _workers:
            made = _workers[key] = Worker(limits, processes=key[1], preload=True)
            atexit.register(made.__exit__)
        return _workers[key]
