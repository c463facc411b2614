"""Tasks for the worker that misbehave as the kernel does."""

from __future__ import annotations

import os
import signal
import threading
import time


def crash() -> None:
    os.kill(os.getpid(), signal.SIGSEGV)


def hang() -> None:
    time.sleep(60)


def devour() -> int:
    return len(bytearray(8 * 2**30))


def noisy() -> str:
    os.write(1, b"kernel chatter\n")
    return "done"


def pid() -> int:
    return os.getpid()


def die_afterwards() -> str:
    """Ends well; the process dies a moment later, as with a heap that the kernel has spoilt."""
    threading.Timer(0.3, os.kill, (os.getpid(), signal.SIGSEGV)).start()
    return "done"
