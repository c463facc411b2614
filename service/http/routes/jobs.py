"""Jobs: upload, look at, follow, plan again, stop."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import APIRouter, Body, File, Form, Query, Request, Response, UploadFile
from fastapi.responses import StreamingResponse
from starlette.concurrency import run_in_threadpool

from service.http.problems import Problem, responses
from service.http.records import JobState, state_of
from service.http.state import TheJob, TheRunner, TheSettings, TheStore, check_room
from service.http.uploads import SentFiles, attachment, checked, dropped, job_from, safe_name
from service.store.store import ENDED, Store
from shared.plan import Job

router = APIRouter(prefix="/api/jobs", tags=["jobs"])
LOOK_S = 0.1
PULSE_S = 10.0


@router.post("", status_code=201, responses=responses(413, 422, 507))
def add(
    store: TheStore,
    runner: TheRunner,
    settings: TheSettings,
    response: Response,
    files: SentFiles,
    file: Annotated[UploadFile, File(description="the STEP file")],
    job: Annotated[
        str, Form(description="the job as JSON", examples=['{"stock": 2, "axes": 3, "material": "aluminium"}'])
    ] = "{}",
    solid: Annotated[int | None, Form(ge=1, le=10_000, description="which solid, from 1, if there are several")] = None,
) -> JobState:
    """Upload a STEP file; its features and its plan are worked out in the background."""
    check_room(store, settings)
    asked = job_from(job, files)
    data = file.file.read()
    if not data:
        raise Problem(422, "not_step", "The file is empty.", "Export the part as STEP again.")
    model = store.add_model(data)
    record = store.add_job(model, safe_name(file.filename, "part.step"), solid, asked.to_json(), files)
    runner.wake()
    response.headers["Location"] = f"/api/jobs/{record.id}"
    return state_of(record)


@router.get("", responses=responses(422))
def recent(store: TheStore, most: Annotated[int, Query(ge=1, le=200)] = 50) -> list[JobState]:
    """The newest jobs, newest first."""
    return [state_of(record) for record in store.recent(most)]


@router.get("/{job_id}", responses=responses(404, 422))
def one(record: TheJob) -> JobState:
    """A job and how it is getting on."""
    return state_of(record)


@router.post("/{job_id}/plans", status_code=201, responses=responses(404, 422))
def again(
    record: TheJob,
    store: TheStore,
    runner: TheRunner,
    settings: TheSettings,
    response: Response,
    job: Annotated[Job, Body(examples=[{"stock": 3, "axes": 4, "material": "steel"}])],
) -> JobState:
    """Plan the same part for another stock, machine or material: a new job, which does not read the model again.

    Files that came with the first job stay with it.
    """
    check_room(store, settings)
    made = store.add_job(
        record.model, record.name, record.solid, checked(job, record.attachments).to_json(), record.attachments
    )
    runner.wake()
    response.headers["Location"] = f"/api/jobs/{made.id}"
    return state_of(made)


@router.post("/{job_id}/files", status_code=201, responses=responses(404, 413, 422))
def other_files(
    record: TheJob,
    store: TheStore,
    runner: TheRunner,
    settings: TheSettings,
    response: Response,
    files: SentFiles,
    job: Annotated[str, Form(description="another job as JSON; else the same", examples=['{"axes": 5}'])] = "",
    drop: Annotated[
        str, Form(description="files of the first job to leave out, with commas", examples=["machine,notes"])
    ] = "",
) -> JobState:
    """Plan the same part with another machine, cutter, material, notes, rates or stock file: a new job, which does not
    read the model again. Files of the first job stay with it, unless they are replaced or dropped.
    """
    check_room(store, settings)
    gone = dropped(drop) | {a.field for a in files}
    together = tuple(a for a in record.attachments if a.field not in gone) + files
    asked = job_from(job, together).to_json() if job.strip() else record.job
    made = store.add_job(record.model, record.name, record.solid, asked, together)
    runner.wake()
    response.headers["Location"] = f"/api/jobs/{made.id}"
    return state_of(made)


@router.put("/{job_id}/tools", status_code=201, responses=responses(404, 413, 422))
def other_tools(
    record: TheJob,
    store: TheStore,
    runner: TheRunner,
    settings: TheSettings,
    response: Response,
    tools: Annotated[UploadFile, File(description="cutter file, CSV or TOML")],
) -> JobState:
    """Plan the same part with another cutter file: a new job."""
    check_room(store, settings)
    files = tuple(a for a in record.attachments if a.field != "tools") + attachment("tools", tools)
    made = store.add_job(record.model, record.name, record.solid, record.job, files)
    runner.wake()
    response.headers["Location"] = f"/api/jobs/{made.id}"
    return state_of(made)


@router.delete("/{job_id}", status_code=204, responses=responses(404, 422))
def stop(record: TheJob, store: TheStore) -> None:
    """Stop a job, or forget one that has ended, together with its upload."""
    if record.state in ENDED:
        store.delete_job(record.id)
    else:
        store.cancel(record.id)


@router.get(
    "/{job_id}/events",
    response_class=StreamingResponse,
    responses=responses(404, 422) | {200: {"content": {"text/event-stream": {"schema": {"type": "string"}}}}},
)
async def events(record: TheJob, store: TheStore, request: Request) -> StreamingResponse:
    """The job's states as server-sent events (`event: state`, `data:` the job as JSON), until it has ended."""
    return StreamingResponse(_states(store, record.id, request), media_type="text/event-stream")


async def _states(store: Store, job: str, request: Request) -> AsyncIterator[str]:
    last, spoke = "", time.monotonic()
    while not await request.is_disconnected():
        record = await run_in_threadpool(store.job, job)
        if record is None:
            return
        text = state_of(record).model_dump_json()
        if text != last:
            last, spoke = text, time.monotonic()
            yield f"event: state\ndata: {text}\n\n"
        if record.state in ENDED or getattr(request.app.state, "closing", False):
            return
        if time.monotonic() - spoke > PULSE_S:
            spoke = time.monotonic()
            yield ": still here\n\n"
        await asyncio.sleep(LOOK_S)
