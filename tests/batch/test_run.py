"""A batch as its user runs it: results, resuming, Ctrl-C, killed workers, a full disk."""

from __future__ import annotations

import csv
import json
import os
import resource
import shutil
import signal
import subprocess
import time
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from tests.batch.conftest import command, environment, sidewise

REFUSED = {"parts/empty.step": "not_step", "parts/letter.stp": "not_step", "parts/cut_short.step": "not_step"}


@pytest.fixture(scope="module")
def parts(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return Path(shutil.copytree(folder, tmp_path_factory.mktemp("copy") / "parts"))


@pytest.fixture(scope="module")
def done(parts: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("two")
    ended = sidewise("batch", parts, "--out", out, "--workers", 2)
    assert ended.returncode == 0, ended.stderr
    assert "4 of 7 parts done, 3 ended in an error" in ended.stdout
    return out


def table(out: Path) -> list[dict[str, str]]:
    with (out / "table.csv").open(newline="") as file:
        return list(csv.DictReader(file))


def finished(out: Path) -> list[Path]:
    return sorted(out.rglob("result.json"))


def test_every_part_has_a_row_with_figures_or_an_error_with_a_hint(done: Path) -> None:
    rows = {row["part"]: row for row in table(done)}
    assert {key: row["error_code"] for key, row in rows.items() if row["status"] == "error"} == REFUSED
    assert all(rows[key]["error_hint"] for key in REFUSED)
    good = rows["parts/sub/plate_50.step"]
    assert (good["round_hole"], good["planar_face"], good["faces"]) == ("1", "6", "7")
    assert float(good["minutes"]) > 0 and int(good["setups"]) >= int(good["setups_bound"])


def test_the_parquet_table_says_the_same(done: Path) -> None:
    rows = pq.read_table(done / "table.parquet").to_pylist()
    assert [row["part"] for row in rows] == [row["part"] for row in table(done)]
    assert [row["minutes"] for row in rows] == [float(r["minutes"]) if r["minutes"] else None for r in table(done)]


def test_the_documents_are_those_of_the_single_commands(done: Path, parts: Path) -> None:
    for name in ("features", "plan"):
        alone = sidewise(name, parts / "plate_20.step", "-o", "-").stdout
        assert (done / "parts" / "parts" / "plate_20.step" / f"{name}.json").read_text() == alone


def test_each_part_has_its_price_and_what_cutters_touch_unless_that_is_switched_off(
    folder: Path, done: Path, tmp_path: Path
) -> None:
    """Prices are the quote command's own; notes and rates travel with the work."""
    row = {row["part"]: row for row in table(done)}["parts/plate_20.step"]
    quote = json.loads(sidewise("quote", folder / "plate_20.step", "-o", "-").stdout)
    assert [float(row[f"price_{p['quantity']}"]) for p in quote["prices"]] == [p["each"] for p in quote["prices"]]
    assert float(row["price_1"]) > float(row["price_10"]) > float(row["price_100"]) > 0
    assert (row["reach"], row["faces_not_reached"], float(row["touched"])) == ("reached", "0", 1.0)
    (tmp_path / "rates.toml").write_text("machine_hour = 8000\n")
    (tmp_path / "notes.toml").write_text('[[tolerance]]\ndiameter = 6\ngrade = "H7"\n')
    options = ("--rates", tmp_path / "rates.toml", "--notes", tmp_path / "notes.toml", "--no-reach")
    ended = sidewise("batch", folder / "plate_20.step", "--out", tmp_path / "out", *options)
    assert ended.returncode == 0, ended.stderr
    cheap, (row,) = float(row["price_100"]), table(tmp_path / "out")
    assert float(row["price_100"]) > 10 * cheap and row["currency"] == "EUR"
    assert not row["reach"] and not row["touched"]
    plan = json.loads((tmp_path / "out" / "parts" / "plate_20.step" / "plan.json").read_text())
    assert "ream" in {op["name"] for setup in plan["setups"] for op in setup["operations"]} and not plan["job"]["reach"]
    assert not plan["proof"]["reach"]["checked"]


def test_a_wrong_file_of_the_shop_stops_the_batch_before_it_begins(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "notes.toml").write_text("[[tolerance]]\ndiametre = 6\n")
    ended = sidewise("batch", folder, "--out", tmp_path / "out", "--notes", tmp_path / "notes.toml")
    assert ended.returncode == 2 and "line 2" in ended.stderr and not (tmp_path / "out").exists()


def test_one_worker_finds_the_same(done: Path, parts: Path, tmp_path: Path) -> None:
    assert sidewise("batch", parts, "--out", tmp_path, "--workers", 1).returncode == 0
    files = [p.relative_to(done) for p in sorted(done.rglob("*")) if p.is_file()]
    assert files == [p.relative_to(tmp_path) for p in sorted(tmp_path.rglob("*")) if p.is_file()]
    assert all((done / f).read_bytes() == (tmp_path / f).read_bytes() for f in files)


def test_what_is_done_and_unchanged_is_skipped(done: Path, parts: Path, tmp_path: Path) -> None:
    out = Path(shutil.copytree(done, tmp_path / "out"))
    copy = Path(shutil.copytree(parts, tmp_path / "parts"))
    (copy / "plate_20.step").write_bytes((copy / "plate_30.step").read_bytes())
    ended = sidewise("batch", copy, "--out", out)
    assert "6 were done before" in ended.stdout
    rows = {row["part"]: row for row in table(out)}
    assert rows["parts/plate_20.step"]["size_y"] == "30.0"
    assert "0 were done before" in sidewise("batch", copy, "--out", out, "--stock", 3).stdout


def test_strict_tells_by_the_exit_code(parts: Path, done: Path) -> None:
    assert sidewise("batch", parts, "--out", done, "--strict").returncode == 1


def test_ctrl_c_loses_nothing_that_was_finished(parts: Path, tmp_path: Path) -> None:
    process = subprocess.Popen(
        command("batch", parts, "--out", tmp_path, "--workers", 1),
        env=environment(), text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True,
    )  # fmt: skip
    until(lambda: finished(tmp_path), process)
    os.killpg(process.pid, signal.SIGINT)  # a terminal sends it to the whole group
    _, said = process.communicate(timeout=60)
    assert process.returncode == 130 and "Traceback" not in said
    kept = finished(tmp_path)
    assert len(table(tmp_path)) == len(kept) > 0
    ended = sidewise("batch", parts, "--out", tmp_path)
    assert f"{len(kept)} were done before" in ended.stdout and len(table(tmp_path)) == 7


def test_a_killed_worker_loses_no_part(parts: Path, tmp_path: Path) -> None:
    many = tmp_path / "many"
    many.mkdir()
    for n in range(12):
        shutil.copy(parts / "plate_20.step", many / f"{n}.step")
    process = subprocess.Popen(
        command("batch", many, "--out", tmp_path / "out", "--workers", 2),
        env=environment(), text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True,
    )  # fmt: skip
    until(lambda: finished(tmp_path / "out"), process)
    for pid in workers_of(process.pid):
        os.kill(pid, signal.SIGKILL)
    said, _ = process.communicate(timeout=120)
    assert process.returncode == 0 and "12 of 12 parts done, 0 ended in an error" in said


@pytest.mark.parametrize("room", [4_000, 40_000], ids=["for no part's bytes", "for no plan"])
def test_a_full_disk_is_told_and_the_next_run_goes_on(parts: Path, tmp_path: Path, room: int) -> None:
    def small_files_only() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))

    ended = sidewise("batch", parts, "--out", tmp_path, preexec_fn=small_files_only)
    assert ended.returncode == 2 and "cannot be written" in ended.stderr and "Traceback" not in ended.stderr
    for result in finished(tmp_path):
        assert json.loads(result.read_text())["error"], "a part whose documents do not fit is not done"
    assert not list(tmp_path.rglob("*.part"))
    assert "4 of 7 parts done" in sidewise("batch", parts, "--out", tmp_path).stdout


def until(true: object, process: subprocess.Popen[str]) -> None:
    """Waits until `true()` or the process ends, at most three minutes."""
    for _ in range(3600):
        if true() or process.poll() is not None:  # type: ignore[operator]
            return
        time.sleep(0.05)


def workers_of(parent: int) -> list[int]:
    """Processes two below a process: its forkserver's children."""
    children: dict[int, list[int]] = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            above = int(stat.read_text().rpartition(")")[2].split()[1])
        except OSError:
            continue
        children.setdefault(above, []).append(int(stat.parent.name))
    return [grandchild for child in children.get(parent, []) for grandchild in children.get(child, [])]
