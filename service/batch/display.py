"""How a batch is getting on, on standard error: a live line on a terminal, a line now and then elsewhere."""

from __future__ import annotations

import sys
import time
from typing import Self

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

EVERY_S = 10.0


class Display:
    """Counts parts, errors, the rate and the time left. Use as a context manager and call `step` for each part."""

    def __init__(self, total: int) -> None:
        self._total, self._done, self._errors, self._fresh = total, 0, 0, 0
        self._began = self._last = time.monotonic()
        console = Console(stderr=True)
        self._live = (
            Progress(
                TextColumn("{task.description}"),
                BarColumn(),
                MofNCompleteColumn(),
                TextColumn("{task.fields[rate]}"),
                TimeRemainingColumn(),
                console=console,
            )
            if console.is_terminal
            else None
        )
        self._task = self._live.add_task("parts", total=total, rate="") if self._live else None

    def __enter__(self) -> Self:
        if self._live:
            self._live.start()
        return self

    def __exit__(self, *_: object) -> None:
        if self._live:
            self._live.stop()

    def step(self, error: bool, *, found: bool = False) -> None:
        """One part more is done, or ended in an error. found: an earlier run did it, so it says nothing of the rate."""
        self._done, self._fresh, self._errors = self._done + 1, self._fresh + (not found), self._errors + error
        errors = f"{self._errors} error{'' if self._errors == 1 else 's'}"
        rate = f"{self.rate:.1f}/s, {errors}"
        if self._live and self._task is not None:
            self._live.update(self._task, completed=self._done, rate=rate)
        elif time.monotonic() - self._last > EVERY_S:
            self._last = time.monotonic()
            left = (self._total - self._done) / self.rate if self.rate else 0.0
            print(f"{self._done} of {self._total} parts, {rate}, {left:.0f} s left", file=sys.stderr, flush=True)

    @property
    def rate(self) -> float:
        """Parts a second in this run."""
        return self._fresh / max(time.monotonic() - self._began, 1e-9)
