"""For whoever runs the service: is it well, and what does it do."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter, Response
from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, Counter, Gauge, generate_latest
from pydantic import BaseModel

from service.http.problems import responses
from service.http.state import TheRunner, TheStore

router = APIRouter(tags=["health"])


class Health(BaseModel):
    """Whether the service can work."""

    status: Literal["ok"]
    jobs: dict[str, int]


@router.get("/health", responses=responses())
def health(store: TheStore) -> Health:
    """Whether the service and its database answer."""
    return Health(status="ok", jobs=store.counts())


@router.get(
    "/metrics",
    response_class=Response,
    responses=responses() | {200: {"content": {"text/plain": {"schema": {"type": "string"}}}}},
)
def metrics(store: TheStore, runner: TheRunner) -> Response:
    """Counts in the Prometheus text format."""
    registry = CollectorRegistry()
    stored = Gauge("sidewise_jobs", "Jobs in the store", ["state"], registry=registry)
    for state, count in sorted(store.counts().items()):
        stored.labels(state).set(count)
    ended = Counter("sidewise_jobs_ended", "Jobs that this process brought to an end", ["state"], registry=registry)
    for state, count in sorted(runner.ended.items()):
        ended.labels(state).inc(count)
    return Response(generate_latest(registry), media_type=CONTENT_TYPE_LATEST)
