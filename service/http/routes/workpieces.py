"""The workpiece as it is in each setup, and what is wrong with it at the end, as meshes."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Response
from pydantic import BaseModel, Field

from service.http.answers import key_of
from service.http.described import binary
from service.http.problems import not_found, responses
from service.http.routes.documents import missing
from service.http.runner import Runner
from service.http.state import TheJob, TheRunner, TheStore
from service.store.store import JobRecord, Store
from service.study import workpieces_bytes
from shared.mesh import unpacked
from shared.units import Vector

router = APIRouter(tags=["documents"])


class Workpiece(BaseModel):
    """A mesh of the workpiece."""

    name: str = Field(
        examples=["s1"],
        description="`stock`: the raw block; the id of a setup: the workpiece after it; `left`: what stays that is not the "
        "part; `gouged`: what is cut off the part",
    )
    volume: float = Field(examples=[994245.2], description="mm3")
    triangles: int = Field(examples=[6892])
    jaws: list[tuple[Vector, Vector]] = Field(
        description="jaws of the setup after which it is so: two corners of a box each, mm along part.frame"
    )


@router.get("/api/jobs/{job_id}/workpieces", responses=responses(404, 409, 422))
def workpieces(record: TheJob, store: TheStore, runner: TheRunner) -> list[Workpiece]:
    """Which meshes there are: the raw block, the workpiece after each setup in order, then `left` and `gouged`, each
    only where the simulation found any.
    """
    return [Workpiece(**about) for about, _ in _pieces(record, store, runner)]


@router.get(
    "/api/jobs/{job_id}/workpieces/{name}",
    response_class=Response,
    responses=responses(404, 409, 422) | {200: binary("application/octet-stream")},
)
def workpiece(name: str, record: TheJob, store: TheStore, runner: TheRunner) -> Response:
    """One of them, laid out like the part's mesh; here `faces` holds the number of the operation that cut each triangle,
    from 1 in the order of the plan, and 0 on the raw block.
    """
    for about, mesh in _pieces(record, store, runner):
        if about["name"] == name:
            return Response(mesh, media_type="application/octet-stream", headers={"Cache-Control": "private, no-cache"})
    raise not_found(f"workpiece {name}", f"List them with GET /api/jobs/{record.id}/workpieces.")


def _pieces(record: JobRecord, store: Store, runner: Runner) -> list[tuple[dict[str, Any], bytes]]:
    return unpacked(workpieces_of(record, store, runner))


def workpieces_of(record: JobRecord, store: Store, runner: Runner) -> bytes:
    """All meshes of a job's workpiece, packed: from the store, or made now. Raises a Problem where there is no plan."""
    key = key_of(record, "workpieces")
    found = store.document(key)
    if found is None:
        documents = [store.document(key_of(record, kind)) for kind in ("features", "plan")]
        model = store.model(record.model)
        if model is None:
            raise not_found("model any more")
        if documents[0] is None or documents[1] is None:
            raise missing(record)
        texts = [data.decode() for data in documents if data is not None]
        found = runner.made(key, "workpieces", workpieces_bytes, texts[0], texts[1], model, record.solid)
    return found
