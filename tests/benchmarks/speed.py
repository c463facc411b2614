"""How long recognition takes, as a ratio to the kernel's plain read of the same file in the same run.

    python -m tests.benchmarks.speed ../shared/benchmarks/mfcad2 ../shared/benchmarks/nist --plates 100 1000 5000

One process, after warm-up, the two measured in turn on each file; ratios of wall time, so that a loaded machine slows
both. The plain read is ReadFile and TransferRoots with the kernel's own settings. Nothing here passes or fails.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import subprocess
import sys
import tempfile
import time
import zipfile
from collections.abc import Callable
from math import log
from pathlib import Path
from typing import Any

from tests.benchmarks import pool
from tests.benchmarks.dataset import STEP_ENDINGS

WARM_UP = 3


def main(arguments: list[str] | None = None) -> int:
    """Prints ratios by dataset and by plate. Returns 0, or 2 where the recognizer cannot be used."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.speed", description=__doc__)
    parser.add_argument("paths", nargs="*", type=Path, metavar="PATH", help="STEP files, folders or zips of them")
    parser.add_argument("--sample", type=int, default=60, help="files of each path, evenly spaced by name")
    parser.add_argument("--repeat", type=int, default=3, help="runs of each file; the fastest counts")
    parser.add_argument("--plates", nargs="*", type=int, default=[], metavar="FACES")
    parser.add_argument("--recognizer", default=pool.DEFAULT_RECOGNIZER, metavar="MODULE:FUNCTION")
    parser.add_argument("--memory", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args(arguments)
    try:
        recognize = pool.find(options.recognizer)
    except ImportError as e:
        print(e, file=sys.stderr)
        return 2
    if options.memory:
        recognize(str(options.memory))
        print(_peak_mb())
        return 0
    with tempfile.TemporaryDirectory() as scratch:
        for path in options.paths:
            _dataset(path, Path(scratch), recognize, options)
        if options.plates:
            _plates(options.plates, Path(scratch), recognize, options.recognizer)
    return 0


def plain_read(path: str) -> Any:
    """The kernel's shape of a file, read with the kernel's own settings."""
    from OCP.STEPControl import STEPControl_Reader

    reader = STEPControl_Reader()
    reader.ReadFile(path)
    reader.TransferRoots()
    return reader.OneShape()


def ratios(
    files: list[Path], recognize: Callable[[str], Any], repeat: int, warm_up: int = WARM_UP
) -> list[tuple[float, float, str]]:
    """(read seconds, recognition seconds, name) of each file, each the fastest of `repeat` runs, in turn."""
    for f in files[:warm_up]:
        plain_read(str(f))
        recognize(str(f))
    rows = []
    for f in files:
        runs = [(_seconds(plain_read, f), _seconds(recognize, f)) for _ in range(repeat)]
        rows.append((min(r for r, _ in runs), min(w for _, w in runs), f.name))
    return rows


def _seconds(call: Callable[[str], Any], path: Path) -> float:
    begin = time.perf_counter()
    call(str(path))
    return time.perf_counter() - begin


def _dataset(path: Path, scratch: Path, recognize: Callable[[str], Any], options: argparse.Namespace) -> None:
    files = files_of(path, scratch, options.sample)
    if not files:
        print(f"{path}: no STEP files")
        return
    rows = ratios(files, recognize, options.repeat)
    found = sorted(w / r for r, w, _ in rows)
    worst = max(rows, key=lambda row: row[1] / row[0])
    print(
        f"{path.name}: {len(rows)} files, recognition / plain read: median {statistics.median(found):.2f}, "
        f"least {found[0]:.2f}, 90 % {found[int(0.9 * (len(found) - 1))]:.2f}, most {found[-1]:.2f} ({worst[2]}); "
        f"median read {1000 * statistics.median(r for r, _, _ in rows):.1f} ms, "
        f"recognition {1000 * statistics.median(w for _, w, _ in rows):.1f} ms"
    )


def files_of(path: Path, scratch: Path, sample: int) -> list[Path]:
    """Up to `sample` STEP files of a folder or of the zips in it, evenly spaced by name; zipped ones are unpacked."""
    if path.is_file() and path.suffix.lower() in STEP_ENDINGS:
        return [path]
    plain = [f for f in sorted(path.rglob("*")) if f.suffix.lower() in STEP_ENDINGS] if path.is_dir() else []
    if plain:
        return _spread(plain, sample)
    archives = [path] if path.suffix == ".zip" else sorted(path.glob("*.zip"))
    files = []
    for archive in archives:
        with zipfile.ZipFile(archive) as opened:
            names = sorted(n for n in opened.namelist() if n.lower().endswith(STEP_ENDINGS))
            files += [Path(opened.extract(n, scratch / path.name)) for n in _spread(names, sample)]
    return files


def _spread(items: list, sample: int) -> list:
    step = max(1, -(-len(items) // sample))
    return items[::step]


def _plates(sizes: list[int], scratch: Path, recognize: Callable[[str], Any], recognizer: str) -> None:
    from tests.benchmarks.plates import write_plate

    previous: tuple[int, float, float] | None = None
    for size in sizes:
        path, faces = write_plate(size, scratch)
        ((read, whole, _),) = ratios([path], recognize, 1, warm_up=0 if previous else 1)
        growth = ""
        if previous:
            step = log(faces / previous[0])
            growth = f", growth power {log(whole / previous[2]) / step:.2f} (read {log(read / previous[1]) / step:.2f})"
        print(
            f"plate of {faces} faces: read {read:.2f} s, recognition {whole:.2f} s, ratio {whole / read:.2f}, "
            f"peak memory {_memory(path, recognizer)} MB{growth}",
            flush=True,
        )
        previous = faces, read, whole


def _memory(path: Path, recognizer: str) -> str:
    """Peak memory of a process that only recognises this file, or of the largest process that it started."""
    call = [sys.executable, "-m", "tests.benchmarks.speed", "--memory", str(path), "--recognizer", recognizer]
    done = subprocess.run(call, check=False, capture_output=True, text=True)
    return done.stdout.strip() or f"unknown ({done.stderr.strip()[-200:]})"


def _peak_mb() -> int:
    peaks = (resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return max(peaks) // 1024  # Linux gives kilobytes


if __name__ == "__main__":
    sys.exit(main())
