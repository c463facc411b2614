"""A line on standard error that says what takes so long, and only when it does."""

from __future__ import annotations

import sys
import threading
import time
from typing import Self

PATIENCE_S = 1.0


class Progress:
    """Says `text` on standard error after a second of waiting. Use as a context manager.

    On a terminal the line counts the seconds and is wiped at the end; elsewhere it is written once.
    """

    def __init__(self, text: str) -> None:
        self._text = text
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._show, daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._done.set()
        self._thread.join()

    def _show(self) -> None:
        began = time.monotonic()
        if self._done.wait(PATIENCE_S):
            return
        if not sys.stderr.isatty():
            print(f"{self._text} ...", file=sys.stderr, flush=True)
            return
        while True:
            print(f"\r{self._text} ... {time.monotonic() - began:.0f} s", end="", file=sys.stderr, flush=True)
            if self._done.wait(0.5):
                print("\r\033[K", end="", file=sys.stderr, flush=True)
                return
