"""Reading and recognising in a process of its own, with limits on time and memory: the kernel may die, we do not.

The CAD kernel crashes, hangs or eats memory on some files. Here that costs one task, and becomes a KernelCrash,
KernelTimeout or KernelMemory that says so.
"""

from __future__ import annotations

import concurrent.futures
import multiprocessing
import os
import resource
import signal
import threading
from collections.abc import Callable
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from typing import Any, Self

from pebble import ProcessExpired, ProcessPool

from shared.carried import CarriedReach
from shared.errors import KernelCrash, KernelFailure, KernelKilled, KernelMemory, KernelTimeout
from shared.features import Box, FeaturesDocument
from shared.reach import ReachDocument
from shared.shape import CarriedShape, Shape
from shared.units import Vector


@dataclass(frozen=True)
class Limits:
    """What one task may use: seconds of wall time and GiB of data (RLIMIT_DATA: heap and private mappings)."""

    seconds: float = 120.0
    memory_gb: float = 4.0


@dataclass(frozen=True)
class PartForPlan:
    """Features document as JSON text, triangles for the simulation, reach document as JSON text or why there is none."""

    features: str
    shape: Shape | None
    reach: str | None
    why: str

    def document(self) -> FeaturesDocument:
        """The features document with what goes with it."""
        document = FeaturesDocument.from_json(self.features)
        reach = ReachDocument.from_json(self.reach) if self.reach else self.why
        document.carry(CarriedShape(self.shape), CarriedReach(reach))
        return document


def features_json(path: str, solid: int | None) -> str:
    """The features document of a STEP file as JSON text. Runs in the worker."""
    from recognizer import recognize

    return recognize(path, solid=solid).to_json()


def reach_json(
    path: str, solid: int | None, sides: list[Vector], tools: str | None, ids: list[str], limits: str, axes: int
) -> str:
    """The reach document of a STEP file as JSON text. Runs in the worker."""
    from recognizer import reach
    from shared.cutters import load_cutters
    from shared.reach import ReachLimits

    return reach(
        path,
        solid=solid,
        table=load_cutters(tools),
        cutters=ids or None,
        directions=sides or None,
        limits=ReachLimits.from_json(limits),
        axes=axes,
    ).to_json()


def part_for_plan(path: str, solid: int | None, tools: str | None, reach: bool, shape: bool = True) -> PartForPlan:
    """What a plan is made from, by one reading of a STEP file; reach and shape only where wanted. Runs in the worker."""
    from recognizer import recognize
    from shared.cutters import load_cutters

    document = recognize(path, solid=solid)
    found, why = document.reach_by(load_cutters(tools)) if reach else (None, "not asked for")
    return PartForPlan(document.to_json(), document.shape if shape else None, found.to_json() if found else None, why)


def stock_box(path: str, frame: list[Vector]) -> tuple[Box, float]:
    """Box of a stock file along the part's axes, and the share of it that the stock fills. Runs in the worker."""
    from recognizer.kernel.extent import read_box

    return read_box(path, frame)


PRELOADED = ["recognizer.pipeline", "recognizer.kernel.read", "recognizer.kernel.snapshot", "planner"]


class Worker:
    """Worker processes, kept from task to task and replaced when they die. Use as a context manager.

    preload: load the kernel and the planner once for all workers to come. Loading takes seconds, which is worth it
    where many tasks, or many deaths, are ahead.
    """

    def __init__(self, limits: Limits, processes: int = 1, preload: bool = False) -> None:
        self.limits = limits
        self._processes, self._preload = processes, preload
        self._lock = threading.Lock()
        self._pool = self._new_pool()

    def _new_pool(self) -> ProcessPool:
        context = multiprocessing.get_context("forkserver")
        if self._preload:
            context.set_forkserver_preload(PRELOADED)
        return ProcessPool(
            max_workers=self._processes,
            initializer=_confine,
            initargs=(int(self.limits.memory_gb * 2**30),),
            context=context,
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._pool.stop()
        self._pool.join()

    def start(self, task: Callable[..., Any], *args: Any) -> Future:
        """Begin a task and return at once. The task must be a function of an importable module."""
        with self._lock:
            try:
                raw = self._pool.schedule(task, args=args, timeout=self.limits.seconds)
            except RuntimeError:  # the pool gave up: a process died while it had no task
                self._pool.stop()
                self._pool.join()
                self._pool = self._new_pool()
                raw = self._pool.schedule(task, args=args, timeout=self.limits.seconds)
        return Future(raw, self.limits)


class Future:
    """A task under way. raw: what concurrent.futures can wait for."""

    def __init__(self, future: Any, limits: Limits) -> None:
        self.raw = future
        self._limits = limits

    def result(self) -> Any:
        """Waits for what the task returns. Raises what it raised, or a KernelFailure when its process did not live."""
        try:
            return self.raw.result()
        except concurrent.futures.TimeoutError:
            raise KernelTimeout(
                f"Reading the part took longer than {self._limits.seconds:g} seconds and was stopped.",
                "Give it more time with --timeout SECONDS (a plan takes less with --no-reach), or simplify or repair the model.",
            ) from None
        except MemoryError:
            raise self._out_of_memory() from None
        except ProcessExpired as death:
            raise self._crash(death) from None
        except BrokenProcessPool:
            raise KernelKilled(
                "The process that was to read the part died of the part before it.", "Try again: it was not this part."
            ) from None

    def _out_of_memory(self) -> KernelMemory:
        return KernelMemory(
            f"Reading the part needed more than {self._limits.memory_gb:g} GB of memory.",
            "Allow more with --memory GB, or simplify the model.",
        )

    def _crash(self, death: ProcessExpired) -> KernelFailure:
        if death.exitcode in (-signal.SIGKILL, -signal.SIGTERM):
            return KernelKilled(
                f"The process that read the part was killed from outside (signal {-death.exitcode}).",
                "Most often the machine had no memory left: free some, use fewer workers, or allow less with --memory.",
            )
        ended = f"signal {-death.exitcode}" if death.exitcode < 0 else f"exit code {death.exitcode}"
        return KernelCrash(
            f"The CAD kernel crashed on this file ({ended}).",
            "The model is damaged: open it in the program it came from, repair it and export it again. "
            "If it is sound there, please report it.",
        )


def _confine(memory_bytes: int) -> None:
    """Limits of the worker: memory, no core file, nothing on the user's output (the kernel prints as it likes)."""
    resource.setrlimit(resource.RLIMIT_DATA, (memory_bytes, memory_bytes))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the parent, which stops its workers
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    os.close(nowhere)
