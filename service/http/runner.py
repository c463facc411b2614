"""Jobs from the queue to their end: each read and each computation in a worker process with its limits."""

from __future__ import annotations

import concurrent.futures
import logging
import threading
import time
import uuid
from collections.abc import Callable
from typing import Any, TypeVar

from sqlalchemy.exc import OperationalError

from service.batch.outcome import told
from service.http.answers import key_of, study_of_record
from service.store.store import MOST_TRIES, JobRecord, Store
from service.study import features_text, mesh_bytes, plan_text
from service.worker import Future, Limits, Worker
from shared.errors import KernelKilled, KernelTimeout, SidewiseError

log = logging.getLogger("sidewise.http")
T = TypeVar("T")
IDLE_S = 0.25
RENEW_S = 1.0
"""Seconds between two looks at whether a running job is still wanted; each also renews its lease."""
MOST_EXTRAS = 16
"""Documents made at a request, at one time: more would hold up the jobs."""
AFTER = {"mesh": "recognising", "features": "drawing"}
"""What a job waits for when one of the two is there and the other is not."""
AWAY_S = (0.2, 5.0)
"""First and longest wait before a database that is away is asked again, seconds."""


class Stopped(Exception):
    """The service is being shut down."""


class Cancelled(Exception):
    """The job is to be stopped, or another service has taken it over."""


class GaveUp(SidewiseError):
    """The job's service died each time it was tried."""

    code = "gave_up"


class Busy(SidewiseError):
    """Too much is asked for at once."""

    code = "busy"


class Runner:
    """Threads that take jobs from the store, and the worker processes that do them."""

    def __init__(self, store: Store, limits: Limits, workers: int) -> None:
        self.owner = uuid.uuid4().hex
        self._store, self._limits = store, limits
        self._stop, self._news = threading.Event(), threading.Condition()
        self._worker = Worker(limits, processes=workers, preload=True)
        self._threads = [threading.Thread(target=self._loop, name=f"runner-{n}", daemon=True) for n in range(workers)]
        self._extras = threading.BoundedSemaphore(MOST_EXTRAS)
        self.ended: dict[str, int] = {"done": 0, "failed": 0, "cancelled": 0}

    def start(self) -> None:
        """Begins to take jobs."""
        for thread in self._threads:
            thread.start()

    def wake(self) -> None:
        """Says that a job was added, so that nobody sleeps past it."""
        with self._news:
            self._news.notify_all()

    def stop(self) -> None:
        """Stops the workers; unfinished jobs go back to the queue."""
        self._stop.set()
        self.wake()
        for thread in self._threads:
            thread.join(timeout=10)
        self._worker.__exit__()

    def made(self, key: str, kind: str, task: Callable[..., Any], *args: Any) -> bytes:
        """A document that is only made when somebody asks for it, from the store or by a worker.

        Raises Busy when too many are being made, and what the task raised.
        """
        found = self._store.document(key)
        if found is not None:
            return found
        if not self._extras.acquire(blocking=False):
            raise Busy("Too many reports are being made.", "Try again in a few seconds.")
        try:
            result = self._worker.start(task, *args).result()
        finally:
            self._extras.release()
        data = result if isinstance(result, bytes) else str(result).encode()
        self._store.keep_document(key, kind, data)
        return data

    def _loop(self) -> None:
        while not self._stop.is_set():
            try:
                record = self._patiently(lambda: self._store.claim(self.owner))
                if record is None:
                    with self._news:
                        self._news.wait(IDLE_S)
                else:
                    self._work(record)
            except Stopped:
                return
            except Exception:
                log.exception("a job could not be settled")
                time.sleep(1)

    def _work(self, record: JobRecord) -> None:
        job = record.id
        try:
            if record.tries > MOST_TRIES:
                raise GaveUp("The service died on this job each time.", "Please report it with the model, if you may.")
            self._answer(record)
            self._patiently(lambda: self._store.finish(self.owner, job))
            self.ended["done"] += 1
        except Cancelled:
            self._patiently(lambda: self._store.end_cancelled(self.owner, job))
            self.ended["cancelled"] += 1
        except Stopped:
            self._store.release(self.owner, job)
            raise
        except KernelKilled:  # says nothing about the part; the count of tries ends it if it happens again
            self._patiently(lambda: self._store.requeue(self.owner, job))
        except Exception as error:
            if not isinstance(error, SidewiseError):
                log.error("job %s failed: %s", job, type(error).__name__)
            failure = told(error)
            self._patiently(lambda: self._store.finish(self.owner, job, failure))
            self.ended["failed"] += 1

    def _answer(self, record: JobRecord) -> None:
        """Makes the documents that the store lacks."""
        data = self._model(record)
        self._seen_and_recognised(record, data)
        features = self._patiently(lambda: self._store.document(key_of(record, "features"))) or b""
        study = study_of_record(record)
        self._document(record, "plan", "planning", plan_text, features.decode(), study, data, record.solid)

    def _seen_and_recognised(self, record: JobRecord, data: bytes) -> None:
        """Mesh and features, at the same time where two workers are free; the mesh is begun first, since people look at
        it first and it is soon made. Where one of them fails, the other is kept all the same.
        """
        tasks: dict[str, tuple[Any, ...]] = {
            "mesh": (mesh_bytes, data, record.solid),
            "features": (features_text, data, record.name, record.solid),
        }
        lacking = [kind for kind in tasks if not self._has(record, kind)]
        if not lacking:
            return
        self._stage(record, "reading")
        under_way = {kind: self._worker.start(*tasks[kind]) for kind in lacking}
        failure: SidewiseError | None = None
        try:
            while under_way:
                waiting = [future.raw for future in under_way.values()]
                ended, _ = concurrent.futures.wait(waiting, self._patience(), concurrent.futures.FIRST_COMPLETED)
                for kind in [kind for kind, future in under_way.items() if future.raw in ended]:
                    failure = self._kept_or_failed(record, kind, under_way.pop(kind)) or failure
                    if under_way:
                        self._stage(record, AFTER[kind])
                self._still_wanted(record)
        finally:
            for future in under_way.values():
                future.raw.cancel()
        if failure:
            raise failure

    def _kept_or_failed(self, record: JobRecord, kind: str, future: Future) -> SidewiseError | None:
        """Keeps what a task made, or says how it failed. Raises what ends the job at once: a part that hangs in one task
        hangs in the other."""
        try:
            self._keep(record, kind, future.result())
        except (KernelKilled, KernelTimeout):
            raise
        except SidewiseError as error:
            return error
        return None

    def _stage(self, record: JobRecord, stage: str) -> None:
        self._patiently(lambda: self._store.stage(self.owner, record.id, stage))

    def _has(self, record: JobRecord, kind: str) -> bool:
        return self._patiently(lambda: self._store.has_document(key_of(record, kind)))

    def _model(self, record: JobRecord) -> bytes:
        data = self._patiently(lambda: self._store.model(record.model))
        if data is None:
            raise Cancelled
        return data

    def _document(self, record: JobRecord, kind: str, stage: str, task: Callable[..., Any], *args: Any) -> bytes:
        found = self._patiently(lambda: self._store.document(key_of(record, kind)))
        if found is not None:
            return found
        self._stage(record, stage)
        return self._keep(record, kind, self._result(record, self._worker.start(task, *args)))

    def _keep(self, record: JobRecord, kind: str, result: Any) -> bytes:
        data = result if isinstance(result, bytes) else str(result).encode()
        self._patiently(lambda: self._store.keep_document(key_of(record, kind), kind, data))
        return data

    def _result(self, record: JobRecord, future: Future) -> Any:
        """Waits for a task, keeps the job's lease alive meanwhile, and stops it when it is cancelled."""
        while True:
            try:
                concurrent.futures.wait([future.raw], self._patience())
                if future.raw.done():
                    return future.result()
                self._still_wanted(record)
            except (Stopped, Cancelled):
                future.raw.cancel()
                raise

    def _patience(self) -> float:
        """Seconds until a running job is looked at again."""
        return 0 if self._stop.is_set() else RENEW_S

    def _still_wanted(self, record: JobRecord) -> None:
        if self._stop.is_set():
            raise Stopped
        if not self._patiently(lambda: self._store.renew(self.owner, record.id)):
            raise Cancelled

    def _patiently(self, ask: Callable[[], T]) -> T:
        """Asks the store until it answers: what was computed is kept until the database is back."""
        wait = AWAY_S[0]
        while True:
            try:
                return ask()
            except OperationalError as error:
                log.warning("the store does not answer: %s", type(error.orig).__name__)
                if self._stop.wait(wait):
                    raise Stopped from None
                wait = min(2 * wait, AWAY_S[1])
