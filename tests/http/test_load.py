"""A small load in the suite; `python -m tests.http.load` runs a larger one."""

from __future__ import annotations

from pathlib import Path

from tests.http.conftest import serve
from tests.http.load import Load


def test_under_load_no_job_is_lost_and_no_answer_is_wrong(tmp_path: Path) -> None:
    served = serve(tmp_path / "s.db", "--workers", 2, "--most-waiting", 2, "--rate", "100000/minute")
    load = Load(served, most_waiting=2)
    try:
        load.run(uploads=10, clients=6)
    finally:
        served.stop()
    assert not load.faults, load.faults
    assert load.counts["taken"] == 10
    assert load.counts["hostile: failed"] >= 4 and load.counts["azimuth_base: done"] == 1
