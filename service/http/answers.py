"""Which documents a job leads to, and under which key each is stored."""

from __future__ import annotations

from hashlib import sha256

from service.store.store import JobRecord
from service.study import Study, code_fingerprint

KINDS = ("features", "mesh", "plan")
"""Made for every job."""
EXTRAS = ("reach", "quote", "report", "workpieces")
"""Made when somebody asks."""
OF_THE_PART = ("features", "mesh")
"""Kinds that do not depend on the job: another stock or machine finds them in the store."""


def study_of_record(record: JobRecord) -> Study:
    """What the planner is asked in a job."""
    return Study(record.job, record.attachments)


def key_of(record: JobRecord, kind: str) -> str:
    """Key of a job's document: the same part, job and code give the same key. kind: with whatever else it depends on."""
    part = f"{record.model}\0{record.name}\0{record.solid}\0{code_fingerprint()}"
    text = part if kind in OF_THE_PART else f"{part}\0{study_of_record(record).fingerprint()}"
    return sha256(f"{kind}\0{text}".encode()).hexdigest()
