"""The real service in a process of its own, and a client for it."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cadquery as cq
import httpx
import pytest

ROOT = Path(__file__).resolve().parents[2]
ENDED = ("done", "failed", "cancelled")


@dataclass
class Served:
    """A running service."""

    process: subprocess.Popen[str]
    client: httpx.Client

    def upload(self, data: bytes, name: str = "part.step", **form: Any) -> dict[str, Any]:
        answer = self.client.post("/api/jobs", files={"file": (name, data)}, data=form)
        assert answer.status_code == 201, answer.text
        return dict(answer.json())

    def ended(self, job: str, within_s: float = 120) -> dict[str, Any]:
        """The job when it has ended."""
        until = time.monotonic() + within_s
        while time.monotonic() < until:
            found = self.client.get(f"/api/jobs/{job}").json()
            if found["state"] in ENDED:
                return dict(found)
            time.sleep(0.05)
        raise AssertionError(f"job {job} did not end: {found}")

    def stop(self, how: int = signal.SIGTERM) -> int:
        self.client.close()
        self.process.send_signal(how)
        return self.process.wait(30)


def serve(store: Path | str, *options: object, **env: str) -> Served:
    """Starts `sidewise serve` on a free port and waits until it answers."""
    command = [sys.executable, "-m", "service.main", "serve", "--port", "0", "--store", str(store)]
    process = subprocess.Popen(
        [*command, *map(str, options)],
        env=os.environ | {"PYTHONPATH": str(ROOT)} | env, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    said = ""
    assert process.stderr
    while not (found := re.search(r"serves at (http://\S+);", said)):
        line = process.stderr.readline()
        assert line, f"the service did not start: {said}"
        said += line
    client = httpx.Client(base_url=found[1], timeout=60)
    for _ in range(200):
        try:
            client.get("/health")
            break
        except httpx.ConnectError:
            time.sleep(0.05)
    return Served(process, client)


@pytest.fixture(scope="session")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """One service for the tests that do not break it."""
    made = serve(
        tmp_path_factory.mktemp("store") / "s.db", "--workers", 2, "--max-upload", 2, "--rate", "100000/minute"
    )
    yield made
    assert made.stop() == 0, "the service shuts down cleanly"


@pytest.fixture(scope="session")
def part(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A plate with a hole."""
    path = tmp_path_factory.mktemp("part") / "plate.step"
    cq.exporters.export(cq.Workplane().box(60, 40, 10).faces(">Z").workplane().hole(6), str(path))
    return path.read_bytes()


@pytest.fixture(scope="session")
def large_part() -> bytes:
    """A part that takes seconds."""
    return (ROOT / "models" / "azimuth_base.step").read_bytes()
