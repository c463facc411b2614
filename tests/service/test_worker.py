"""The worker process dies, hangs and starves; the parent says so and lives on."""

from __future__ import annotations

import contextlib
import os
import time
from collections.abc import Iterator

import pytest

from service.worker import Limits, Worker
from shared.errors import KernelCrash, KernelKilled, KernelMemory, KernelTimeout
from tests.service import tasks


@pytest.fixture(scope="module")
def worker() -> Iterator[Worker]:
    with Worker(Limits(seconds=3, memory_gb=2)) as made:
        yield made


def test_a_crash_is_told_and_the_next_task_runs(worker: Worker) -> None:
    with pytest.raises(KernelCrash, match="signal 11") as caught:
        worker.start(tasks.crash).result()
    assert caught.value.exit_code == 4
    assert worker.start(tasks.pid).result() != os.getpid()


def test_too_much_memory_is_told(worker: Worker) -> None:
    with pytest.raises(KernelMemory, match="2 GB"):
        worker.start(tasks.devour).result()


def test_a_hang_is_stopped_at_the_limit() -> None:
    with Worker(Limits(seconds=0.5)) as short, pytest.raises(KernelTimeout, match="0.5 seconds"):
        short.start(tasks.hang).result()


def test_what_the_kernel_prints_does_not_reach_our_output(worker: Worker, capfd: pytest.CaptureFixture[str]) -> None:
    assert worker.start(tasks.noisy).result() == "done"
    assert capfd.readouterr().out == ""


def test_a_death_between_two_tasks_is_not_held_against_the_next() -> None:
    with Worker(Limits(seconds=10)) as dying:
        assert dying.start(tasks.die_afterwards).result() == "done"
        time.sleep(1)
        with contextlib.suppress(KernelKilled):  # may be told once, and the next try is well
            dying.start(tasks.pid).result()
        assert dying.start(tasks.pid).result() != os.getpid()
