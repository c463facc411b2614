"""Pictures of the part and of the workpiece in each setup, as PNG."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Query, Response

from service.http.answers import key_of
from service.http.described import binary
from service.http.problems import responses
from service.http.routes.documents import missing
from service.http.routes.workpieces import workpieces_of
from service.http.state import TheJob, TheRunner, TheStore
from service.report.album import PART, picture_bytes
from service.store.store import JobRecord, Store
from shared.plan import PlanDocument

router = APIRouter(tags=["documents"])
Pixels = Annotated[int, Query(ge=64, le=2400)]
Name = Annotated[
    str,
    Path(
        pattern=r"^[a-z0-9_]{1,40}$",
        examples=["part"],
        description="`part`; the id of a setup: the workpiece after it; ID_before: as it is clamped; `end`, `end_below`: "
        "what stays and what is gouged, where there is any",
    ),
]


@router.get("/api/jobs/{job_id}/pictures", responses=responses(404, 409, 422))
def pictures(record: TheJob, store: TheStore) -> list[str]:
    """Names of the pictures that can be drawn now: the part as soon as it is read, the rest when it is planned."""
    _text(record, store, "features")
    plan = store.document(key_of(record, "plan"))
    if plan is None:
        return [PART]
    planned = PlanDocument.from_json(plan.decode())
    wrong = ["end", "end_below"] if planned.proof.left_uncut or planned.proof.gouged else []
    return [PART, *(name for s in planned.setups for name in (f"{s.id}_before", s.id)), *wrong]


@router.get(
    "/api/jobs/{job_id}/pictures/{name}",
    response_class=Response,
    responses=responses(404, 409, 422, 501) | {200: binary("image/png")},
)
def picture(
    name: Name, record: TheJob, store: TheStore, runner: TheRunner, width: Pixels = 900, height: Pixels = 620
) -> Response:
    """One picture. Raw sides are sand, what earlier setups cut is grey, what this one cuts blue; at the end what stays is
    vermilion and what is gouged black. 501 where the service's machine cannot draw without a screen.
    """
    features, mesh = _text(record, store, "features"), store.document(key_of(record, "mesh"))
    if mesh is None:
        raise missing(record)
    plan = pack = None
    if name != PART:
        plan, pack = _text(record, store, "plan"), workpieces_of(record, store, runner)
    key = key_of(record, f"picture {name} {width} {height}")
    data = runner.made(key, "picture", picture_bytes, features, plan, mesh, pack, name, (width, height))
    return Response(data, media_type="image/png", headers={"Cache-Control": "private, no-cache"})


def _text(record: JobRecord, store: Store, kind: str) -> str:
    data = store.document(key_of(record, kind))
    if data is None:
        raise missing(record)
    return data.decode()
