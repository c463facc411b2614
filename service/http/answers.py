"""Which documents a job leads to, and under which key each is stored."""

from __future__ import annotations

from hashlib import sha256

from service.store.store import JobRecord
from service.study import Attachment, Study, code_fingerprint
from shared.plan import Job

KINDS = ("features", "mesh", "plan")
"""Made for every job."""
EXTRAS = ("reach", "quote", "report", "workpieces", "pictures")
"""Made when somebody asks."""
OF_THE_PART = ("features", "mesh")
"""Kinds that do not depend on the job: another stock or machine finds them in the store."""


def study_of_record(record: JobRecord) -> Study:
    """What the planner is asked in a job: what the shop charges changes no plan."""
    return Study(record.job, tuple(a for a in record.attachments if a.field != "rates"))


def axes_of(record: JobRecord) -> int:
    """Axes that a job asks for."""
    return Job.model_validate_json(record.job).axes


def file_of(record: JobRecord, field: str) -> Attachment | None:
    """A file that came with a job."""
    return next((a for a in record.attachments if a.field == field), None)


def key_of(record: JobRecord, kind: str) -> str:
    """Key of a job's document: the same part, job and code give the same key. kind: with whatever else it depends on."""
    part = f"{record.model}\0{record.name}\0{record.solid}\0{code_fingerprint()}"
    return sha256(f"{kind}\0{part}\0{_rest(record, kind)}".encode()).hexdigest()


def _rest(record: JobRecord, kind: str) -> str:
    """What a document depends on beside the part and the code."""
    if kind in OF_THE_PART:
        return ""
    if kind == "reach":
        tools = file_of(record, "tools")
        return Study(str(axes_of(record)), (tools,) if tools else ()).fingerprint()
    if kind.startswith(("quote", "report")):
        return Study(record.job, record.attachments).fingerprint()
    return study_of_record(record).fingerprint()
