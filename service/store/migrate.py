"""Brings a database to the tables of this version."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Engine, text

MIGRATIONS = Path(__file__).parent / "migrations"
LOCK = 0x51DE
"""Number of the lock that lets one service at a time migrate a PostgreSQL database; it means nothing else."""


def migrate(engine: Engine) -> None:
    """Runs the migrations that the database lacks. Services that start together wait for each other."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    with engine.begin() as connection:
        if engine.dialect.name == "postgresql":
            connection.execute(text(f"SELECT pg_advisory_xact_lock({LOCK})"))
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
