"""A bounded load on a real service: good, large and hostile uploads at once, more than its queue holds.

    python -m tests.http.load --uploads 60 --clients 8 --most-waiting 20

Every upload is either taken, and then ends in a right answer or in an error with code and hint, or refused politely (503
with Retry-After) and sent again. Right means: the same bytes as the same part gave alone before the load. Prints what
happened and how much memory the service and its workers held; exit code 1 if a job was lost, an answer wrong, a refusal
impolite, or the queue longer than its limit.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import threading
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx

from tests.batch.test_run import workers_of
from tests.http.conftest import ENDED, ROOT, Served, serve

GOOD = ("balance_weight", "encoder_cover", "dovetail_clamp")
LARGE = "azimuth_base"
WITHIN_S = 900.0


def main() -> int:
    """Runs the load and prints the findings."""
    parser = argparse.ArgumentParser(prog="python -m tests.http.load", description=__doc__)
    parser.add_argument("--uploads", type=int, default=60)
    parser.add_argument("--clients", type=int, default=8)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--most-waiting", type=int, default=20)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        served = serve(
            Path(scratch) / "s.db", "--workers", options.workers, "--most-waiting", options.most_waiting, "--rate",
            "100000/minute", "--timeout", 300,
        )  # fmt: skip
        try:
            load = Load(served, options.most_waiting)
            load.run(options.uploads, options.clients)
        finally:
            served.stop()
    load.report()
    return 1 if load.faults else 0


class Load:
    """What is sent, what came back."""

    def __init__(self, served: Served, most_waiting: int) -> None:
        self._served, self._most_waiting = served, most_waiting
        self._url = str(served.client.base_url)
        self.faults: list[str] = []
        self.counts: Counter[str] = Counter()
        self._most_memory, self._longest, self._seconds = 0.0, 0, 0.0
        self._alone: dict[str, bytes] = {}
        self._over = threading.Event()

    def run(self, uploads: int, clients: int) -> None:
        """Answers of the good parts alone, then all uploads from several clients at once."""
        for name in GOOD:
            done = self._served.upload(_model(name), f"{name}.step")
            self._served.ended(done["id"], WITHIN_S)
            self._alone[name] = self._served.client.get(done["links"]["plan"]).content
        rng = random.Random(8)
        wanted = [_kind(n, rng) for n in range(uploads)]
        watch = threading.Thread(target=self._watch)
        watch.start()
        began = time.monotonic()
        with ThreadPoolExecutor(clients) as pool:
            jobs = list(pool.map(self._send, range(uploads), wanted))
            for kind, job in zip(wanted, jobs, strict=True):
                self._judge(kind, job)
        self._seconds = time.monotonic() - began
        self._over.set()
        watch.join()

    def _send(self, n: int, kind: str) -> dict[str, str]:
        """Sends an upload until it is taken. A stock of its own for each: nothing is answered from the store."""
        with httpx.Client(base_url=self._url, timeout=120) as client:
            while True:
                stock = 2.0 if kind in GOOD else 2.0 + n / 1000
                answer = client.post(
                    "/api/jobs", files={"file": (f"{kind}.step" if kind in GOOD else f"{kind}{n}.step", _bytes(kind, n))},
                    data={"job": f'{{"stock": {stock}}}'},
                )  # fmt: skip
                if answer.status_code == 201:
                    self.counts["taken"] += 1
                    return dict(answer.json()["links"]) | {"id": answer.json()["id"]}
                self.counts["refused politely"] += 1
                if answer.status_code != 503 or not answer.headers.get("retry-after") or not answer.json()["hint"]:
                    self.faults.append(f"impolite refusal: {answer.status_code} {answer.text[:200]}")
                    raise RuntimeError(self.faults[-1])
                time.sleep(1.0)

    def _judge(self, kind: str, links: dict[str, str]) -> None:
        with httpx.Client(base_url=self._url, timeout=120) as client:
            until = time.monotonic() + WITHIN_S
            while (job := client.get(f"/api/jobs/{links['id']}").json())["state"] not in ENDED:
                if time.monotonic() > until:
                    self.faults.append(f"lost: {kind} {links['id']} is still {job['stage']}")
                    return
                time.sleep(0.2)
            self.counts[f"{kind}: {job['state']}"] += 1
            if kind in GOOD and client.get(links["plan"]).content != self._alone[kind]:
                self.faults.append(f"wrong answer for {kind}")
            if kind == LARGE and job["state"] != "done":
                self.faults.append(f"{kind} did not end well: {job['error']}")
            if job["state"] == "failed" and not (job["error"]["code"] and job["error"]["hint"]):
                self.faults.append(f"an error without code or hint: {job['error']}")
            if job["state"] == "failed" and job["error"]["code"] == "internal_error":
                self.faults.append(f"{kind}: {job['error']}")

    def _watch(self) -> None:
        """Longest queue and most memory, looked at twice a second."""
        with httpx.Client(base_url=self._url, timeout=120) as client:
            while not self._over.wait(0.5):
                waiting = client.get("/health").json()["jobs"].get("queued", 0)
                self._longest = max(self._longest, waiting)
                pids = [self._served.process.pid, *workers_of(self._served.process.pid)]
                self._most_memory = max(self._most_memory, sum(map(_memory, pids)))
        slack = 8  # clients that were let in at the same moment
        if self._longest > self._most_waiting + slack:
            self.faults.append(f"the queue grew to {self._longest}")

    def report(self) -> None:
        """Prints what happened."""
        print(f"{self._seconds:.0f} s; longest queue {self._longest} of {self._most_waiting}; most memory of the service "
              f"and its workers {self._most_memory:.0f} MB")  # fmt: skip
        for what, count in sorted(self.counts.items()):
            print(f"  {what}: {count}")
        print("\n".join(self.faults) or "no job lost, no answer wrong, every refusal polite")


def _kind(n: int, rng: random.Random) -> str:
    if n % 12 == 5:
        return LARGE
    return rng.choice(GOOD) if n % 2 else "hostile"


def _model(name: str) -> bytes:
    return (ROOT / "models" / f"{name}.step").read_bytes()


def _bytes(kind: str, n: int) -> bytes:
    """A model, or one spoilt in a way of its own: cut off, bytes turned over, or no STEP at all."""
    if kind != "hostile":
        return _model(kind)
    rng, data = random.Random(n), bytearray(_model(GOOD[n % len(GOOD)]))
    if n % 3 == 0:
        return bytes(data[: rng.randrange(len(data))]) or b"x"
    if n % 3 == 1:
        return rng.randbytes(20_000)
    for _ in range(30):
        data[rng.randrange(len(data))] = rng.randrange(256)
    return bytes(data)


def _memory(pid: int) -> float:
    try:
        text = Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return 0.0
    found = text.partition("VmRSS:")[2].split()
    return int(found[0]) / 1024 if found else 0.0


if __name__ == "__main__":
    sys.exit(main())
