"""What routes need, taken from the application."""

from __future__ import annotations

from typing import Annotated, cast

from fastapi import Depends, Path, Request

from service.http.problems import Problem, not_found
from service.http.records import EXAMPLE_ID
from service.http.runner import Runner
from service.http.settings import Settings
from service.store.store import JobRecord, Store


def _store(request: Request) -> Store:
    return cast(Store, request.app.state.store)


def _runner(request: Request) -> Runner:
    return cast(Runner, request.app.state.runner)


def _settings(request: Request) -> Settings:
    return cast(Settings, request.app.state.settings)


TheStore = Annotated[Store, Depends(_store)]
TheRunner = Annotated[Runner, Depends(_runner)]
TheSettings = Annotated[Settings, Depends(_settings)]


def _job(
    store: TheStore,
    job_id: Annotated[str, Path(pattern="^[0-9a-f]{32}$", description="id of a job", examples=[EXAMPLE_ID])],
) -> JobRecord:
    found = store.job(job_id)
    if found is None:
        raise not_found(f"job {job_id}")
    return found


TheJob = Annotated[JobRecord, Depends(_job)]


def check_room(store: Store, settings: Settings) -> None:
    """Raises a 503 Problem while the queue is full."""
    if store.counts().get("queued", 0) >= settings.most_waiting:
        raise Problem(
            503,
            "queue_full",
            f"{settings.most_waiting} jobs are waiting already.",
            "Try again later.",
            Retry_After="30",
        )
