"""Documents that are made when somebody asks for them: reach, quote, report, and what changed between two parts."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

from fastapi import APIRouter, Query, Response
from pydantic import BaseModel, Field

from service.http.answers import axes_of, file_of, key_of
from service.http.described import json_document
from service.http.problems import Problem, not_found, responses
from service.http.records import EXAMPLE_ID
from service.http.routes.documents import attached, missing
from service.http.routes.workpieces import workpieces_of
from service.http.runner import Runner
from service.http.state import TheJob, TheRunner, TheStore
from service.store.store import JobRecord, Store
from service.study import compare_text, quote_text, reach_text, report_bytes

router = APIRouter(tags=["documents"])
MOST_QUANTITIES = 10
Quantities = Annotated[
    str, Query(pattern=r"^\d{1,7}(,\d{1,7}){0,9}$", description="numbers of parts", examples=["1,10,100"])
]


class Format(StrEnum):
    """Kinds of report."""

    html = "html"
    pdf = "pdf"
    csv = "csv"


class Paper(StrEnum):
    """Papers that a report is laid out for."""

    a4 = "a4"
    letter = "letter"


class Lengths(StrEnum):
    """Units of lengths on a report."""

    mm = "mm"
    inch = "inch"


MEDIA = {Format.html: "text/html; charset=utf-8", Format.pdf: "application/pdf", Format.csv: "text/csv; charset=utf-8"}


@router.get(
    "/api/jobs/{job_id}/reach", response_class=Response, responses=responses(404, 409, 422) | json_document("reach")
)
def reach(record: TheJob, store: TheStore, runner: TheRunner) -> Response:
    """The reach document: for every face and direction what the job's cutters touch, and what is in the way."""
    return Response(_reach(record, store, runner), media_type="application/json")


@router.get(
    "/api/jobs/{job_id}/quote", response_class=Response, responses=responses(404, 409, 422) | json_document("quote")
)
def quote(record: TheJob, store: TheStore, runner: TheRunner, quantities: Quantities = "1,10,100") -> Response:
    """The quote document, at the rates of the job's file or at assumed ones."""
    return Response(_quote(record, store, runner, quantities), media_type="application/json")


@router.get(
    "/api/jobs/{job_id}/report",
    response_class=Response,
    responses=responses(404, 409, 422)
    | {200: {"description": "The sheets", "content": {kind.partition(";")[0]: {} for kind in MEDIA.values()}}},
)
def report(
    record: TheJob,
    store: TheStore,
    runner: TheRunner,
    format: Format = Format.html,
    paper: Paper = Paper.a4,
    units: Lengths = Lengths.mm,
    quantities: Quantities = "1,10,100",
) -> Response:
    """Setup sheets, a quote sheet and a reach sheet for people."""
    papers = {
        "features": _text(record, store, "features"),
        "plan": _text(record, store, "plan"),
        "quote": _quote(record, store, runner, quantities).decode(),
        "reach": _reach(record, store, runner).decode(),
    }
    mesh, pack = _bytes(record, store, "mesh"), workpieces_of(record, store, runner)
    kind = f"report {format} {paper} {units} {quantities}"
    data = runner.made(
        key_of(record, kind),
        "report",
        report_bytes,
        papers,
        mesh,
        pack,
        f".{format}",
        paper.value,
        units is Lengths.inch,
    )
    name = f"{record.name}.{format}"
    return Response(data, media_type=MEDIA[format], headers={"Content-Disposition": attached(name)})


class Two(BaseModel):
    """Two jobs to compare."""

    old: str = Field(pattern="^[0-9a-f]{32}$", examples=[EXAMPLE_ID])
    new: str = Field(pattern="^[0-9a-f]{32}$", examples=["f1f4a2c0d9cb469fa16570867728950e"])


@router.post("/api/compare", response_class=Response, responses=responses(404, 409, 422) | json_document("compare"))
def compare(two: Two, store: TheStore, runner: TheRunner) -> Response:
    """What changed between two parts, or between two plans of one part: features, setups, operations, cutters, minutes."""
    texts = []
    for job in (two.old, two.new):
        record = store.job(job)
        if record is None:
            raise not_found(f"job {job}")
        texts.append((record, (_text(record, store, "features"), _text(record, store, "plan"))))
    (old, before), (new, after) = texts
    key = key_of(old, f"compare {key_of(new, 'plan')}")
    return Response(runner.made(key, "compare", compare_text, before, after), media_type="application/json")


def _reach(record: JobRecord, store: Store, runner: Runner) -> bytes:
    model = store.model(record.model)
    if record.state == "failed" and not store.has_document(key_of(record, "features")):
        raise missing(record)
    if model is None:
        raise not_found("model any more")
    asked = (model, record.name, record.solid, file_of(record, "tools"), axes_of(record))
    return runner.made(key_of(record, "reach"), "reach", reach_text, *asked)


def _quote(record: JobRecord, store: Store, runner: Runner, quantities: str) -> bytes:
    wanted = tuple(sorted({int(n) for n in quantities.split(",")}))
    if wanted[0] < 1:
        raise Problem(422, "invalid", "quantities: at least one part.", "For example quantities=1,10,100.")
    papers = (_text(record, store, "features"), _text(record, store, "plan"))
    rates = file_of(record, "rates")
    return runner.made(key_of(record, f"quote {wanted}"), "quote", quote_text, *papers, wanted, rates)


def _text(record: JobRecord, store: Store, kind: str) -> str:
    return _bytes(record, store, kind).decode()


def _bytes(record: JobRecord, store: Store, kind: str) -> bytes:
    data = store.document(key_of(record, kind))
    if data is None:
        raise missing(record)
    return data
