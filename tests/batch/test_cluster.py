"""The same batch on a real Dask cluster: a scheduler and workers in processes of their own, some of them killed."""

from __future__ import annotations

import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from service.batch import cluster
from service.batch.outcome import Task
from service.study import Study
from service.worker import Limits
from shared.errors import UsageError
from tests.batch.conftest import command, environment, sidewise
from tests.batch.test_run import finished, table, until

pytest.importorskip("distributed")


@contextmanager
def dask(*arguments: object) -> Iterator[subprocess.Popen[bytes]]:
    process = subprocess.Popen(
        [sys.executable, "-m", "distributed.cli." + str(arguments[0]), *map(str, arguments[1:])],
        env=environment() | {"DASK_DISTRIBUTED__WORKER__DAEMON": "False"},
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        yield process
    finally:
        process.send_signal(signal.SIGTERM)
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()


@contextmanager
def scheduler_at(port: int) -> Iterator[subprocess.Popen[bytes]]:
    """A scheduler that answers: a busy machine takes longer to start one than a batch waits for it."""
    with dask("dask_scheduler", "--host", "127.0.0.1", "--port", port, "--no-dashboard") as process:
        for _ in range(1200):
            with socket.socket() as s:
                if s.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.05)
        yield process


def free_port() -> int:
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return int(s.getsockname()[1])


@pytest.fixture
def many(folder: Path, tmp_path: Path) -> Path:
    made = tmp_path / "many"
    made.mkdir()
    for n in range(10):
        shutil.copy(folder / "plate_20.step", made / f"{n}.step")
    shutil.copy(folder / "letter.stp", made)
    return made


def test_a_worker_killed_on_the_way_loses_nothing(many: Path, tmp_path: Path) -> None:
    port = free_port()
    address = f"tcp://127.0.0.1:{port}"
    worker = ("dask_worker", address, "--nthreads", 1, "--no-dashboard", "--no-nanny", "--local-directory", tmp_path)
    with (
        scheduler_at(port),
        dask(*worker) as one,
        dask(*worker),
    ):
        process = subprocess.Popen(
            command("batch", many, "--out", tmp_path / "out", "--scheduler", address),
            env=environment(), text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        )  # fmt: skip
        until(lambda: finished(tmp_path / "out"), process)
        one.kill()
        said, errors = process.communicate(timeout=120)
    assert process.returncode == 0, errors
    assert "10 of 11 parts done, 1 ended in an error" in said
    here = tmp_path / "here"
    assert sidewise("batch", many, "--out", here).returncode == 0
    assert table(here) == table(tmp_path / "out")


def test_a_scheduler_killed_on_the_way_is_told_and_the_next_run_goes_on(many: Path, tmp_path: Path) -> None:
    port = free_port()
    address = f"tcp://127.0.0.1:{port}"
    out = tmp_path / "out"
    worker = ("dask_worker", address, "--nthreads", 1, "--no-dashboard", "--no-nanny", "--local-directory", tmp_path)
    with scheduler_at(port) as scheduler, dask(*worker):
        process = subprocess.Popen(
            command("batch", many, "--out", out, "--scheduler", address),
            env=environment(), text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        )  # fmt: skip
        until(lambda: finished(out), process)
        scheduler.kill()
        _, errors = process.communicate(timeout=120)
    assert process.returncode == 5 and "scheduler went away" in errors and "Traceback" not in errors
    kept = len(finished(out))
    assert 0 < kept < 11
    assert f"{kept} were done before" in sidewise("batch", many, "--out", out).stdout


def test_no_scheduler_is_told(many: Path, tmp_path: Path) -> None:
    ended = sidewise("batch", many, "--out", tmp_path / "out", "--scheduler", f"tcp://127.0.0.1:{free_port()}")
    assert ended.returncode == 2 and "No Dask scheduler answers" in ended.stderr


def test_a_scheduler_without_workers_is_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "WORKERS_S", 1)
    data = (folder / "plate_20.step").read_bytes()
    with scheduler_at(port := free_port()), pytest.raises(UsageError, match="has no workers") as told:
        list(
            cluster.run_on_cluster([Task("a", "a", "0" * 64, data)], Study(), Limits(60, 2), f"tcp://127.0.0.1:{port}")
        )
    assert "dask worker" in told.value.hint
