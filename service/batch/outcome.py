"""One part on its way: what is asked, and what came of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from service.errors import internal
from shared.errors import SidewiseError


@dataclass(frozen=True)
class Task:
    """A part whose bytes have been read. key: its name in the results; name: its file name for the documents."""

    key: str
    name: str
    sha256: str
    data: bytes = field(repr=False)


@dataclass(frozen=True)
class Outcome:
    """What came of a task: its documents, or an error."""

    key: str
    sha256: str
    documents: dict[str, str] = field(default_factory=dict, repr=False)
    error: dict[str, Any] | None = None


def studied(task: Task, documents: dict[str, str]) -> Outcome:
    """A task that ended well."""
    return Outcome(task.key, task.sha256, documents)


def failed(task: Task, error: Exception) -> Outcome:
    """A task that ended in an error; an unexpected one becomes an internal error that says where it came from."""
    return Outcome(task.key, task.sha256, error=told(error))


def told(error: Exception) -> dict[str, Any]:
    """Code, message, hint, where and exit code of an error, as plain data."""
    known = error if isinstance(error, SidewiseError) else internal(error)
    return {name: getattr(known, name) for name in ("code", "message", "hint", "where", "exit_code")}
