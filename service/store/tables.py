"""The tables. Changes here need a migration in `migrations/versions`."""

from __future__ import annotations

from sqlalchemy import Boolean, Column, Float, ForeignKey, Index, Integer, LargeBinary, MetaData, String, Table, Text

metadata = MetaData()

models = Table(
    "models",
    metadata,
    Column("sha256", String(64), primary_key=True),
    Column("size", Integer, nullable=False),
    Column("data", LargeBinary, nullable=False),
    Column("created", Float, nullable=False),
)
"""STEP files as they were uploaded, each once."""

jobs = Table(
    "jobs",
    metadata,
    Column("id", String(32), primary_key=True),
    Column("model", String(64), ForeignKey("models.sha256"), nullable=False),
    Column("name", String(255), nullable=False),
    Column("solid", Integer),
    Column("job", Text, nullable=False),
    Column("state", String(16), nullable=False),
    Column("stage", String(32), nullable=False),
    Column("error", Text),
    Column("created", Float, nullable=False),
    Column("finished", Float),
    Column("owner", String(64)),
    Column("lease", Float),
    Column("tries", Integer, nullable=False, default=0),
    Column("cancel", Boolean, nullable=False, default=False),
    Index("jobs_by_state", "state", "created"),
)
"""What was asked for. owner and lease: which service works on it, and until when it may be believed to."""

attachments = Table(
    "attachments",
    metadata,
    Column("job", String(32), ForeignKey("jobs.id", ondelete="CASCADE"), primary_key=True),
    Column("field", String(32), primary_key=True),
    Column("name", String(255), nullable=False),
    Column("data", LargeBinary, nullable=False),
)
"""Files that a job names: cutters, machine and the like."""

documents = Table(
    "documents",
    metadata,
    Column("key", String(64), primary_key=True),
    Column("kind", String(32), nullable=False),
    Column("data", LargeBinary, nullable=False),
    Column("created", Float, nullable=False),
)
"""Answers, packed with zlib, under a key that names all they depend on."""
