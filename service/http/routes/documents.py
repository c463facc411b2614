"""The documents of a job, and their schemas."""

from __future__ import annotations

import json
from typing import Annotated, Any

from fastapi import APIRouter, Header, Response

from service.http.answers import key_of
from service.http.described import NOT_MODIFIED, binary, json_document
from service.http.problems import Problem, not_found, responses
from service.http.state import TheJob, TheStore
from service.run import schema_of
from service.store.store import JobRecord, Store

router = APIRouter(tags=["documents"])
IfNoneMatch = Annotated[str | None, Header()]


@router.get(
    "/api/jobs/{job_id}/features",
    response_class=Response,
    responses=responses(404, 409, 422) | json_document("features") | NOT_MODIFIED,
)
def features(record: TheJob, store: TheStore, if_none_match: IfNoneMatch = None) -> Response:
    """The features document; there as soon as the part has been read, before its plan."""
    return document(store, record, "features", if_none_match)


@router.get(
    "/api/jobs/{job_id}/plan",
    response_class=Response,
    responses=responses(404, 409, 422) | json_document("plan") | NOT_MODIFIED,
)
def plan(record: TheJob, store: TheStore, if_none_match: IfNoneMatch = None) -> Response:
    """The plan document."""
    return document(store, record, "plan", if_none_match)


@router.get(
    "/api/jobs/{job_id}/mesh",
    response_class=Response,
    responses=responses(404, 409, 422) | NOT_MODIFIED | {200: binary("application/octet-stream")},
)
def mesh(record: TheJob, store: TheStore, if_none_match: IfNoneMatch = None) -> Response:
    """The part as triangles by face and lines by edge, little-endian; the layout is described in shared/mesh.py."""
    return document(store, record, "mesh", if_none_match, "application/octet-stream")


@router.get(
    "/api/jobs/{job_id}/model",
    response_class=Response,
    responses=responses(404, 422)
    | {200: {"content": {"model/step": {"schema": {"type": "string", "format": "binary"}}}}},
)
def model(record: TheJob, store: TheStore) -> Response:
    """The STEP file as it was uploaded."""
    data = store.model(record.model)
    if data is None:
        raise not_found("model any more")
    return Response(data, media_type="model/step", headers={"Content-Disposition": attached(record.name)})


@router.get("/api/schemas/{name}", responses=responses(404, 422))
def schema(name: str) -> dict[str, Any]:
    """The JSON Schema of a document: features, plan, reach, quote or compare."""
    try:
        return dict(json.loads(schema_of(name)))
    except Exception:
        raise not_found(f"schema {name}", "There are: features, plan, reach, quote, compare.") from None


def document(
    store: Store, record: JobRecord, kind: str, known: str | None, media_type: str = "application/json"
) -> Response:
    """A job's stored document, or 304 where the client has it. Raises a Problem while it is not there."""
    key = key_of(record, kind)
    tag = f'"{key}"'
    if known == tag and store.has_document(key):
        return Response(status_code=304, headers={"ETag": tag})
    data = store.document(key)
    if data is None:
        raise missing(record)
    return Response(data, media_type=media_type, headers={"ETag": tag, "Cache-Control": "private, no-cache"})


def missing(record: JobRecord) -> Problem:
    """Why a job has no such document: its error, or that it is not ready."""
    if record.error:
        return Problem(422, record.error["code"], record.error["message"], record.error["hint"])
    if record.state == "cancelled":
        return Problem(409, "cancelled", "The job was stopped before this was ready.", "Upload the part again.")
    hint = "Follow the job's events, or ask again in a second."
    return Problem(409, "not_ready", f"The job is still {record.stage}.", hint, Retry_After="1")


def attached(name: str) -> str:
    """Content-Disposition of a download."""
    plain = "".join(c if c.isascii() and c not in '"\\' else "_" for c in name)
    return f'attachment; filename="{plain}"'
