"""The worker process dies, hangs and starves; the parent says so and lives on."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from service.worker import Limits, Worker
from shared.errors import KernelCrash, KernelMemory, KernelTimeout
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
