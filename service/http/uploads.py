"""What people send: file names made safe, jobs checked."""

from __future__ import annotations

import re
import unicodedata
from typing import Annotated, Any

from fastapi import Depends, File, UploadFile
from pydantic import ValidationError

from planner.stock import LARGEST
from service.http.problems import Problem
from service.study import ATTACHED, FILE_FIELDS, Attachment
from shared.errors import UsageError
from shared.plan import Job
from shared.shop.materials import material, materials

LONGEST_NAME = 120
MAX_FILE = 5_000_000
"""Bytes of a cutter, machine or other small file."""
MAX_STOCK = 50_000_000
"""Bytes of a STEP file of the stock."""
LONGEST_SEARCH_S = 60.0
JOB_HINT = 'For example {"stock": 2, "axes": 3, "material": "aluminium"}. See GET /api/openapi.json.'


def safe_name(name: str | None, default: str) -> str:
    """The last piece of a file's name, without what could harm a page, a header or a folder."""
    last = re.split(r"[/\\]", name or "")[-1]
    plain = unicodedata.normalize("NFC", last)
    kept = "".join(c if c.isalnum() or c in " ._-()+~" else "_" for c in plain).strip(" .")
    if len(kept) > LONGEST_NAME:
        stem, dot, ending = kept.rpartition(".")
        kept = (
            (stem or ending)[: LONGEST_NAME - len(ending) - 1] + dot + ending
            if len(ending) < 10
            else kept[:LONGEST_NAME]
        )
    return kept or default


def job_from(text: str, files: tuple[Attachment, ...] = ()) -> Job:
    """A job from the JSON text that came with a request. Raises a 422 Problem naming the field."""
    try:
        job = Job.model_validate_json(text or "{}")
    except ValidationError as error:
        raise _wrong(error) from None
    return checked(job, files)


def checked(job: Job, files: tuple[Attachment, ...] = ()) -> Job:
    """A job that can be planned: it names no file of this machine, asks for no endless search, its stock is a stock and
    its material known, unless a file that comes with it says what the material is. Raises a 422 Problem."""
    for name in FILE_FIELDS:
        if getattr(job, name, None) is not None:
            raise Problem(
                422, "invalid", f"job.{name}: a path means nothing here.", f"Send the file as the field {name}."
            )
    if isinstance(job.stock, str) or job.stock_box is not None:
        raise Problem(422, "invalid", "job.stock: a path means nothing here.", "Send the file as the field stock.")
    numbers = job.stock if isinstance(job.stock, list) else [job.stock] * 6
    if len(numbers) != 6 or not all(0 <= v <= LARGEST for v in numbers):
        said = f"job.stock: one number, or six for -x +x -y +y -z +z, each from 0 to {LARGEST:g} mm."
        raise Problem(422, "invalid", said, JOB_HINT)
    if not any(a.field == "material_file" for a in files):
        try:
            material(job.material)
        except UsageError as error:
            hint = f"Known materials: {', '.join(sorted(materials()))}; or send a file as the field material_file."
            raise Problem(422, "invalid", f"job.material: {error.message}.", hint) from None
    if not 0 < job.time_limit <= LONGEST_SEARCH_S:
        raise Problem(
            422, "invalid", f"job.time_limit: more than 0 and at most {LONGEST_SEARCH_S:g} seconds.", JOB_HINT
        )
    return job


def _wrong(error: ValidationError) -> Problem:
    first: Any = error.errors()[0]
    place = ".".join(["job", *(str(piece) for piece in first["loc"])])
    return Problem(422, "invalid", f"{place}: {first['msg']}", JOB_HINT)


def _sent(
    tools: Annotated[UploadFile | None, File(description="cutter file, CSV or TOML")] = None,
    machine: Annotated[UploadFile | None, File(description="machine file, TOML or CSV")] = None,
    material_file: Annotated[UploadFile | None, File(description="material file, TOML or CSV")] = None,
    notes: Annotated[UploadFile | None, File(description="notes file: threads, tolerances, roughness")] = None,
    rates: Annotated[UploadFile | None, File(description="rates file for quotes, TOML or CSV")] = None,
    stock: Annotated[UploadFile | None, File(description="STEP file of the stock; its box is taken")] = None,
) -> tuple[Attachment, ...]:
    sent = (("tools", tools), ("machine", machine), ("material_file", material_file), ("notes", notes))
    return tuple(a for name, file in (*sent, ("rates", rates), ("stock", stock)) for a in attachment(name, file))


SentFiles = Annotated[tuple[Attachment, ...], Depends(_sent)]
"""The files that came with a request, beside the part."""


def attachment(field: str, file: UploadFile | None) -> tuple[Attachment, ...]:
    """A file that came with a job. Raises a 413 Problem where it is not small; a model of the stock may be larger."""
    if file is None or not file.filename:
        return ()
    most = MAX_FILE if field != "stock" else MAX_STOCK
    data = file.file.read(most + 1)
    if len(data) > most:
        raise Problem(413, "too_large", f"The {field} file is larger than {most / 1e6:g} MB.", "Is it the right file?")
    return (Attachment(field, safe_name(file.filename, f"{field}.toml"), data),)


def dropped(fields: str) -> set[str]:
    """Names of files to be left out, from a text with commas. Raises a 422 Problem for an unknown one."""
    names = {name.strip() for name in fields.split(",") if name.strip()}
    if wrong := sorted(names - set(ATTACHED)):
        raise Problem(422, "invalid", f"drop: there is no file {wrong[0][:40]}.", f"There are {', '.join(ATTACHED)}.")
    return names
