"""What people send: file names made safe, jobs checked."""

from __future__ import annotations

import re
import unicodedata
from typing import Any

from fastapi import UploadFile
from pydantic import ValidationError

from service.http.problems import Problem
from service.study import FILE_FIELDS, Attachment
from shared.plan import Job

LONGEST_NAME = 120
MAX_FILE = 5_000_000
"""Bytes of a cutter, machine or other small file."""
LONGEST_SEARCH_S = 60.0
JOB_HINT = 'For example {"stock": 2, "axes": 3, "material": "aluminium"}. See GET /api/docs.'


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


def job_from(text: str) -> Job:
    """A job from the JSON text that came with a request. Raises a 422 Problem naming the field."""
    try:
        job = Job.model_validate_json(text or "{}")
    except ValidationError as error:
        raise _wrong(error) from None
    return checked(job)


def checked(job: Job) -> Job:
    """A job that names no file of this machine and asks for no endless search. Raises a 422 Problem."""
    for name in FILE_FIELDS:
        if getattr(job, name, None) is not None:
            raise Problem(
                422, "invalid", f"job.{name}: a path means nothing here.", f"Send the file as the field {name}."
            )
    if isinstance(job.stock, str) or job.stock_box is not None:
        raise Problem(422, "invalid", "job.stock: a stock file cannot be used here.", "Give an allowance in mm.")
    if not 0 < job.time_limit <= LONGEST_SEARCH_S:
        raise Problem(
            422, "invalid", f"job.time_limit: more than 0 and at most {LONGEST_SEARCH_S:g} seconds.", JOB_HINT
        )
    return job


def _wrong(error: ValidationError) -> Problem:
    first: Any = error.errors()[0]
    place = ".".join(["job", *(str(piece) for piece in first["loc"])])
    return Problem(422, "invalid", f"{place}: {first['msg']}", JOB_HINT)


def attachment(field: str, file: UploadFile | None) -> tuple[Attachment, ...]:
    """A small file that came with a job. Raises a 413 Problem where it is not small."""
    if file is None:
        return ()
    data = file.file.read(MAX_FILE + 1)
    if len(data) > MAX_FILE:
        raise Problem(
            413, "too_large", f"The {field} file is larger than {MAX_FILE / 1e6:g} MB.", "Is it the right file?"
        )
    return (Attachment(field, safe_name(file.filename, f"{field}.toml"), data),)
