"""The command line in this process: the worker's tasks run here too, so that a test costs no new process."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from typer.testing import CliRunner

from service import run
from service.main import app


class InlineWorker:
    """Runs tasks at once, in this process."""

    def __init__(self, limits: run.Limits) -> None:
        self.limits = limits

    def __enter__(self) -> InlineWorker:
        return self

    def __exit__(self, *_: object) -> None: ...

    def start(self, task: Callable[..., Any], *args: Any) -> InlineTask:
        """The task, to be run when its result is asked for."""
        return InlineTask(task, args)


class InlineTask:
    def __init__(self, task: Callable[..., Any], args: tuple[Any, ...]) -> None:
        self._task, self._args = task, args

    def result(self) -> Any:
        return self._task(*self._args)


@pytest.fixture
def sidewise(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Any]:
    """`sidewise("features", path)` -> result with exit_code, stdout, stderr."""
    monkeypatch.setattr(run, "Worker", InlineWorker)
    return lambda *args: CliRunner().invoke(app, [str(a) for a in args])
