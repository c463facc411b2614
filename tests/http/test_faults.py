"""What happens when things die: workers, the service, the database. Nothing finished is lost, nothing half done is
shown as done."""

from __future__ import annotations

import os
import resource
import shutil
import signal
import subprocess
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from tests.batch.test_run import workers_of
from tests.http.conftest import Served, serve

QUICK = '{"reach": false}'
"""What is tested is the service's faults: the large part is planned without the reach analysis, which takes as long again."""


def running(served: Served, job: str) -> None:
    """Waits until the job is being worked on."""
    for _ in range(600):
        if served.client.get(f"/api/jobs/{job}").json()["state"] != "queued":
            return
        time.sleep(0.02)


def kill_group(served: Served) -> None:
    served.client.close()
    os.killpg(served.process.pid, signal.SIGKILL)
    served.process.wait(10)


def test_a_killed_worker_costs_no_job(tmp_path: Path, large_part: bytes) -> None:
    served = serve(tmp_path / "s.db", "--workers", 1)
    try:
        job = served.upload(large_part, "large.step", job=QUICK)
        running(served, job["id"])
        for pid in workers_of(served.process.pid):
            os.kill(pid, signal.SIGKILL)
        assert served.ended(job["id"])["state"] == "done"
    finally:
        served.stop()


def test_a_killed_service_goes_on_where_it_was(
    tmp_path: Path, part: bytes, large_part: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    served = serve(tmp_path / "s.db", "--workers", 1)
    done = served.upload(part, "done.step")
    served.ended(done["id"])
    plan = served.client.get(done["links"]["plan"]).content
    broken, waiting = (
        served.upload(large_part, "large.step", job=QUICK),
        served.upload(part, "waiting.step", job='{"stock": 4}'),
    )
    running(served, broken["id"])
    kill_group(served)

    again = serve(tmp_path / "s.db", "--workers", 1)
    try:
        assert again.client.get(f"/api/jobs/{done['id']}").json()["state"] == "done"
        assert again.client.get(done["links"]["plan"]).content == plan
        assert again.ended(waiting["id"])["state"] == "done"
        assert again.ended(broken["id"])["state"] == "done"
    finally:
        again.stop()


def test_a_service_that_is_stopped_gives_its_job_back(tmp_path: Path, large_part: bytes) -> None:
    served = serve(tmp_path / "s.db", "--workers", 1)
    job = served.upload(large_part, "large.step", job=QUICK)
    running(served, job["id"])
    assert served.stop() == 0
    again = serve(tmp_path / "s.db", "--workers", 1)
    try:
        assert again.ended(job["id"])["state"] == "done"
    finally:
        again.stop()


def test_two_services_share_one_store(tmp_path: Path, part: bytes) -> None:
    one, two = (serve(tmp_path / "s.db", "--workers", 1) for _ in range(2))
    try:
        jobs = [one.upload(part, f"{n}.step", job=f'{{"stock": {n + 1}}}') for n in range(8)]
        assert all(two.ended(job["id"])["state"] == "done" for job in jobs)
        counts = [s.client.get("/metrics").text for s in (one, two)]
        ended = [float(t.partition('jobs_ended_total{state="done"} ')[2].split()[0]) for t in counts]
        assert sum(ended) == 8, "each job was done once"
    finally:
        one.stop()
        two.stop()


class Postgres:
    """A PostgreSQL of our own in a folder, reached through a socket there."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._user = folder, "postgres" if os.geteuid() == 0 else ""
        folder.chmod(0o777)
        if self._user:
            shutil.chown(folder, self._user)
        self._run("initdb", "-D", str(folder / "data"), "-A", "trust", "-U", "sidewise")

    @property
    def url(self) -> str:
        return f"postgresql://sidewise@/postgres?host={self._folder}"

    def start(self) -> None:
        options = f"-k {self._folder} -c listen_addresses=''"
        self._run(
            "pg_ctl", "-D", str(self._folder / "data"), "-w", "-o", options, "-l", str(self._folder / "log"), "start"
        )

    def stop(self) -> None:
        self._run("pg_ctl", "-D", str(self._folder / "data"), "-w", "-m", "immediate", "stop")

    def _run(self, *command: str) -> None:
        path = postgres_program(command[0])
        assert path
        full = [path, *command[1:]]
        if self._user:  # it refuses to run as root
            full = ["su", self._user, "-s", "/bin/sh", "-c", " ".join(f'"{c}"' for c in full)]
        subprocess.run(
            full, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, timeout=60, cwd=self._folder
        )


def postgres_program(name: str) -> str | None:
    """Where a program of PostgreSQL lies: Debian does not put it on the path."""
    found = shutil.which(name)
    return found or next((str(p) for p in sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"))), None)


@pytest.fixture
def postgres(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Postgres]:
    if not postgres_program("initdb"):
        pytest.skip("PostgreSQL is not installed here (Debian: apt-get install postgresql)")
    folder = Path("/tmp") / f"sidewise-pg-{os.getpid()}-{tmp_path_factory.getbasetemp().name}"
    folder.mkdir()
    made = Postgres(folder)
    made.start()
    yield made
    made.stop()
    shutil.rmtree(folder)


def test_a_database_that_goes_away_and_comes_back_loses_nothing(
    postgres: Postgres, part: bytes, large_part: bytes
) -> None:
    served = serve(postgres.url, "--workers", 1)
    try:
        first = served.upload(part, "first.step")
        assert served.ended(first["id"])["state"] == "done"
        plan = served.client.get(first["links"]["plan"]).content
        second = served.upload(large_part, "second.step")
        running(served, second["id"])
        postgres.stop()
        away = served.client.get("/api/jobs")
        assert away.status_code == 503 and away.json()["code"] == "store_away" and away.headers["retry-after"]
        assert served.client.post("/api/demos/balance_weight").status_code == 503
        time.sleep(1)
        postgres.start()
        assert served.ended(second["id"])["state"] == "done"
        assert served.client.get(first["links"]["plan"]).content == plan
    finally:
        served.stop()


class FullDisk:
    """A disk for the store that can be filled and emptied: a small one of its own, or files that may not grow."""

    def __init__(self, folder: Path, own: bool) -> None:
        self.folder, self._own = folder, own
        if own:
            made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", str(folder)], capture_output=True)
            if made.returncode:
                pytest.skip("no disk of its own can be mounted here (that needs the rights of an administrator)")

    def fill(self, served: Served) -> None:
        if self._own:
            with (self.folder / "filler").open("wb", buffering=0) as file, suppress(OSError):
                while True:
                    file.write(bytes(4096))
        else:
            resource.prlimit(served.process.pid, resource.RLIMIT_FSIZE, (1, resource.RLIM_INFINITY))

    def empty(self, served: Served) -> None:
        if self._own:
            (self.folder / "filler").unlink()
        else:
            resource.prlimit(served.process.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY,) * 2)

    def end(self) -> None:
        if self._own:
            subprocess.run(["umount", "-l", str(self.folder)], check=True)


@pytest.fixture(params=["own disk", "files that may not grow"])
def disk(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[FullDisk]:
    made = FullDisk(tmp_path, request.param == "own disk")
    yield made
    made.end()


def test_a_full_disk_refuses_politely_and_loses_nothing(disk: FullDisk, part: bytes, large_part: bytes) -> None:
    served = serve(disk.folder / "s.db", "--workers", 1)
    try:
        first = served.upload(part, "first.step")
        served.ended(first["id"])
        plan = served.client.get(first["links"]["plan"]).content
        under_way = served.upload(large_part, "large.step")
        running(served, under_way["id"])
        disk.fill(served)
        refused = served.client.post("/api/jobs", files={"file": ("other.step", part + b" ")})
        assert refused.status_code == 507 and refused.json()["code"] == "storage_full"
        assert refused.json()["hint"] and str(disk.folder) not in refused.text
        assert served.client.get(first["links"]["plan"]).content == plan, "what is there can still be read"
        time.sleep(4)  # what is computed meanwhile cannot be written
        assert served.client.get(f"/api/jobs/{under_way['id']}").json()["state"] == "running"
        assert served.client.get(under_way["links"]["plan"]).status_code == 409, "nothing half done is shown as done"
        disk.empty(served)
        assert served.ended(under_way["id"])["state"] == "done"
        after = served.upload(part + b" ", "other.step")
        assert served.ended(after["id"])["state"] == "done"
    finally:
        served.stop()


def test_a_job_cancelled_half_way_shows_nothing_as_done_and_holds_nobody_up(
    tmp_path: Path, part: bytes, large_part: bytes
) -> None:
    served = serve(tmp_path / "s.db", "--workers", 1)
    try:
        large = served.upload(large_part, "large.step")
        for _ in range(600):  # its picture is there, its features are not
            if served.client.get(f"/api/jobs/{large['id']}").json()["stage"] == "recognising":
                break
            time.sleep(0.02)
        assert served.client.delete(f"/api/jobs/{large['id']}").status_code == 204
        small = served.upload(part, "small.step")
        assert served.ended(large["id"])["state"] == "cancelled"
        answer = served.client.get(large["links"]["plan"])
        assert answer.status_code == 409 and answer.json()["code"] == "cancelled"
        assert served.ended(small["id"])["state"] == "done"
        again = served.upload(large_part, "large.step")
        assert served.ended(again["id"])["state"] == "done"
    finally:
        served.stop()
