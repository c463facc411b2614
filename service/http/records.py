"""What the service says about jobs."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from service.http.answers import EXTRAS, KINDS
from service.store.store import JobRecord
from shared.plan import Job

EXAMPLE_ID = "0f8fad5bd9cb469fa16570867728950e"


class JobError(BaseModel):
    """Why a job failed: the same words as on the command line."""

    code: str = Field(examples=["not_step"])
    message: str
    hint: str
    where: str


class JobState(BaseModel):
    """A job and how it is getting on."""

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {
                    "id": EXAMPLE_ID, "name": "altitude_carrier.step", "state": "done", "stage": "done",
                    "created": "2026-01-31T09:30:00Z", "finished": "2026-01-31T09:30:02Z", "sha256": "9f86d0...",
                    "job": {"stock": 2.0, "axes": 3, "material": "aluminium"}, "files": [], "error": None,
                    "links": {"self": f"/api/jobs/{EXAMPLE_ID}", "plan": f"/api/jobs/{EXAMPLE_ID}/plan"},
                }
            ]
        }
    )  # fmt: skip

    id: str
    name: str = Field(description="the file's name, made safe")
    sha256: str = Field(description="of the STEP file")
    solid: int | None = None
    state: Literal["queued", "running", "done", "failed", "cancelled"]
    stage: str = Field(description="what it waits for: queued, reading, planning, ...; or how it ended")
    job: dict[str, Any] = Field(description="stock, axes, material and what else the planner was asked")
    files: list[str] = Field(default_factory=list, description="files sent with it, as field: name")
    error: JobError | None = None
    created: str
    finished: str | None = None
    links: dict[str, str]


def state_of(record: JobRecord) -> JobState:
    """A stored job as the service says it."""
    base = f"/api/jobs/{record.id}"
    error = {name: record.error[name] for name in JobError.model_fields} if record.error else None
    return JobState(
        id=record.id,
        name=record.name,
        sha256=record.model,
        solid=record.solid,
        state=record.state,  # type: ignore[arg-type]
        stage=record.stage,
        job=Job.model_validate_json(record.job).model_dump(mode="json", exclude_none=True),
        files=[f"{a.field}: {a.name}" for a in record.attachments],
        error=JobError(**error) if error else None,
        created=_when(record.created),
        finished=_when(record.finished) if record.finished else None,
        links={"self": base, "events": f"{base}/events"} | {kind: f"{base}/{kind}" for kind in (*KINDS, *EXTRAS)},
    )


def _when(epoch: float) -> str:
    return datetime.fromtimestamp(epoch, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
