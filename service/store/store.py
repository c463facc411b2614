"""Models, jobs and documents: kept, found again, and given to whoever works on them.

Several services may share one database. A job is claimed by one of them for a while (its lease), which it renews while
it works; a job whose lease ran out belongs to a service that died, and is claimed again.
"""

from __future__ import annotations

import json
import time
import uuid
import zlib
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from sqlalchemy import Engine, create_engine, delete, event, func, insert, or_, select, update
from sqlalchemy.engine import Connection, RowMapping
from sqlalchemy.exc import IntegrityError

from service.store.migrate import migrate
from service.store.tables import attachments, documents, jobs, models
from service.study import Attachment

LEASE_S = 30.0
MOST_TRIES = 3
"""Times that a job may be claimed: one that takes its service down each time must not do so for ever."""
_WAITING: dict[str, Any] = {"state": "queued", "stage": "queued", "owner": None, "lease": None}
ENDED = ("done", "failed", "cancelled")


@dataclass(frozen=True)
class JobRecord:
    """A job as stored. state: queued, running, done, failed or cancelled. stage: what it waits for. Times are epochs.

    job: the planner's Job as JSON text. error: code, message, hint, where and exit_code.
    """

    id: str
    model: str
    name: str
    solid: int | None
    job: str
    state: str
    stage: str
    error: dict[str, Any] | None
    created: float
    finished: float | None
    tries: int
    cancel: bool
    attachments: tuple[Attachment, ...] = ()


class Store:
    """url: an SQLAlchemy database address, for example sqlite:///file.db or postgresql+psycopg://user@host/name.

    All methods raise sqlalchemy.exc.OperationalError while the database is away or its disk is full.
    """

    def __init__(self, url: str) -> None:
        self._engine = _engine(url)
        migrate(self._engine)

    def close(self) -> None:
        """Gives all connections back."""
        self._engine.dispose()

    def add_model(self, data: bytes) -> str:
        """Keeps a STEP file, once. Returns its SHA-256."""
        digest = sha256(data).hexdigest()
        try:
            with self._engine.begin() as c:
                if c.scalar(select(models.c.sha256).where(models.c.sha256 == digest)) is None:
                    c.execute(insert(models).values(sha256=digest, size=len(data), data=data, created=time.time()))
        except IntegrityError:  # another service was faster
            pass
        return digest

    def model(self, digest: str) -> bytes | None:
        """The bytes of a STEP file."""
        with self._engine.connect() as c:
            return c.scalar(select(models.c.data).where(models.c.sha256 == digest))

    def add_job(
        self, model: str, name: str, solid: int | None, job: str, files: tuple[Attachment, ...] = ()
    ) -> JobRecord:
        """A new job at the end of the queue."""
        made = uuid.uuid4().hex
        with self._engine.begin() as c:
            c.execute(
                insert(jobs).values(
                    id=made, model=model, name=name, solid=solid, job=job, state="queued", stage="queued",
                    created=time.time(), tries=0, cancel=False,
                )
            )  # fmt: skip
            for a in files:
                c.execute(insert(attachments).values(job=made, field=a.field, name=a.name, data=a.data))
        found = self.job(made)
        assert found
        return found

    def job(self, job: str) -> JobRecord | None:
        """A job by its id, with its files."""
        with self._engine.connect() as c:
            row = c.execute(select(jobs).where(jobs.c.id == job)).mappings().first()
            return _record(row, _files(c, job)) if row else None

    def recent(self, most: int) -> list[JobRecord]:
        """The newest jobs, newest first, without their files."""
        with self._engine.connect() as c:
            rows = c.execute(select(jobs).order_by(jobs.c.created.desc(), jobs.c.id).limit(most)).mappings()
            return [_record(row) for row in rows]

    def counts(self) -> dict[str, int]:
        """Number of jobs by state."""
        with self._engine.connect() as c:
            rows = c.execute(select(jobs.c.state, func.count()).group_by(jobs.c.state))
            return {str(state): int(count) for state, count in rows}

    def delete_job(self, job: str) -> None:
        """Forgets a job; its model goes with its last job. Documents stay: they hold no upload's bytes."""
        with self._engine.begin() as c:
            model = c.scalar(select(jobs.c.model).where(jobs.c.id == job))
            c.execute(delete(attachments).where(attachments.c.job == job))
            c.execute(delete(jobs).where(jobs.c.id == job))
            if model and c.scalar(select(func.count()).select_from(jobs).where(jobs.c.model == model)) == 0:
                c.execute(delete(models).where(models.c.sha256 == model))

    def claim(self, owner: str) -> JobRecord | None:
        """The oldest job that nobody works on, now of `owner` for LEASE_S seconds; None if there is none."""
        now = time.time()
        free = or_(jobs.c.state == "queued", (jobs.c.state == "running") & (jobs.c.lease < now))
        with self._engine.begin() as c:
            row = c.execute(select(jobs).where(free).order_by(jobs.c.created, jobs.c.id).limit(1)).mappings().first()
            if row is None:
                return None
            ours = (jobs.c.id == row["id"]) & (jobs.c.state == row["state"]) & (jobs.c.tries == row["tries"])
            values = {"state": "running", "owner": owner, "lease": now + LEASE_S, "tries": row["tries"] + 1}
            if c.execute(update(jobs).where(ours).values(values)).rowcount != 1:
                return None  # another service was faster
        return self.job(row["id"])

    def renew(self, owner: str, job: str) -> bool:
        """Keeps a lease alive. False where the job is no longer ours, or is to be cancelled."""
        mine = (jobs.c.id == job) & (jobs.c.owner == owner) & (jobs.c.state == "running")
        with self._engine.begin() as c:
            c.execute(update(jobs).where(mine).values(lease=time.time() + LEASE_S))
            return c.scalar(select(jobs.c.cancel).where(mine)) is False

    def stage(self, owner: str, job: str, stage: str) -> None:
        """Says what a job waits for."""
        self._change(owner, job, stage=stage)

    def finish(self, owner: str, job: str, error: dict[str, Any] | None = None) -> None:
        """Ends a job of ours, well or with an error."""
        state = "failed" if error else "done"
        text = json.dumps(error) if error else None
        self._change(owner, job, state=state, stage=state, error=text, finished=time.time(), owner=None, lease=None)

    def release(self, owner: str, job: str) -> None:
        """Gives an unfinished job back to the queue, because the service stops: that does not count as a try."""
        self._change(owner, job, **_WAITING, tries=jobs.c.tries - 1)

    def requeue(self, owner: str, job: str) -> None:
        """Gives a job back to be tried again; the try counts."""
        self._change(owner, job, **_WAITING)

    def cancel(self, job: str) -> None:
        """Asks for a job to be stopped: at once where nobody works on it, else when its service sees it."""
        with self._engine.begin() as c:
            c.execute(update(jobs).where((jobs.c.id == job) & jobs.c.state.not_in(ENDED)).values(cancel=True))
            self._end_cancelled(c, (jobs.c.id == job) & (jobs.c.state == "queued"))

    def end_cancelled(self, owner: str, job: str) -> None:
        """Ends a job of ours that was to be cancelled."""
        with self._engine.begin() as c:
            self._end_cancelled(c, (jobs.c.id == job) & (jobs.c.owner == owner) & jobs.c.cancel)

    def _end_cancelled(self, c: Connection, which: Any) -> None:
        values = {"state": "cancelled", "stage": "cancelled", "finished": time.time(), "owner": None, "lease": None}
        c.execute(update(jobs).where(which).values(values))

    def _change(self, mine_as: str, job: str, /, **values: Any) -> None:
        with self._engine.begin() as c:
            mine = (jobs.c.id == job) & (jobs.c.owner == mine_as) & (jobs.c.state == "running")
            c.execute(update(jobs).where(mine).values(**values))

    def document(self, key: str) -> bytes | None:
        """A document's bytes by its key."""
        with self._engine.connect() as c:
            packed = c.scalar(select(documents.c.data).where(documents.c.key == key))
        return zlib.decompress(packed) if packed is not None else None

    def has_document(self, key: str) -> bool:
        """Whether a document is there."""
        with self._engine.connect() as c:
            return c.scalar(select(documents.c.key).where(documents.c.key == key)) is not None

    def keep_document(self, key: str, kind: str, data: bytes) -> None:
        """Keeps a document; the same key always means the same bytes."""
        try:
            with self._engine.begin() as c:
                if c.scalar(select(documents.c.key).where(documents.c.key == key)) is None:
                    packed = zlib.compress(data, 6)
                    c.execute(insert(documents).values(key=key, kind=kind, data=packed, created=time.time()))
        except IntegrityError:
            pass


def _record(row: RowMapping, files: tuple[Attachment, ...] = ()) -> JobRecord:
    values = {name: row[name] for name in JobRecord.__dataclass_fields__ if name in row}
    error = json.loads(row["error"]) if row["error"] else None
    return JobRecord(**(values | {"error": error, "cancel": bool(row["cancel"]), "attachments": files}))


def _files(c: Connection, job: str) -> tuple[Attachment, ...]:
    rows = c.execute(select(attachments).where(attachments.c.job == job).order_by(attachments.c.field)).mappings()
    return tuple(Attachment(r["field"], r["name"], r["data"]) for r in rows)


def _engine(url: str) -> Engine:
    if not url.startswith("sqlite"):
        return create_engine(url, pool_pre_ping=True, pool_size=20, pool_timeout=10)
    engine = create_engine(url, connect_args={"timeout": 15})

    @event.listens_for(engine, "connect")
    def _(connection: Any, _: Any) -> None:
        connection.isolation_level = None  # BEGIN is ours, below: the driver would begin too late for a safe claim
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA foreign_keys=ON")

    @event.listens_for(engine, "begin")
    def _(connection: Connection) -> None:
        connection.exec_driver_sql("BEGIN IMMEDIATE")

    return engine
