"""The demo parts: something to look at before the first upload."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from fastapi import APIRouter, Response
from pydantic import BaseModel, Field

import models
from service.http.problems import not_found, responses
from service.http.records import JobState, state_of
from service.http.state import TheRunner, TheSettings, TheStore, check_room
from shared.plan import Job

router = APIRouter(prefix="/api/demos", tags=["demo parts"])


class Demo(BaseModel):
    """A demo part."""

    name: str = Field(examples=["altitude_carrier"])
    title: str = Field(examples=["Altitude carrier"])


@cache
def _files() -> dict[str, Path]:
    return {path.stem: path for path in sorted(Path(models.__path__[0]).glob("*.step"))}


@router.get("", responses=responses())
def demos() -> list[Demo]:
    """The demo parts: parts of an open-source telescope mount."""
    return [Demo(name=name, title=name.replace("_", " ").capitalize()) for name in _files()]


@router.post("/{name}", status_code=201, responses=responses(404, 422))
def open_demo(name: str, store: TheStore, runner: TheRunner, settings: TheSettings, response: Response) -> JobState:
    """A job for a demo part."""
    path = _files().get(name)
    if path is None:
        raise not_found(f"demo part {name}", "List them with GET /api/demos.")
    check_room(store, settings)
    record = store.add_job(store.add_model(path.read_bytes()), path.name, None, Job().to_json())
    runner.wake()
    response.headers["Location"] = f"/api/jobs/{record.id}"
    return state_of(record)
