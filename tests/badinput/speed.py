"""What reading with all checks costs, as a ratio to the kernel's plain read, and false alarms on good files.

    python -m tests.badinput.speed ../shared/benchmarks/mfcad/dev.zip ../shared/benchmarks/nist --every 20

CPU time in one process, the two measured in turn on each file. The plain read is ReadFile and TransferRoots with the
kernel's own settings; ours is `read_solid`: text checks, reading, soundness, record numbers. Nothing passes or fails.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
import zipfile
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from OCP.STEPControl import STEPControl_Reader

from recognizer.kernel.read import read_solid
from shared.errors import SidewiseError


@contextmanager
def files_of(source: Path, every: int) -> Iterator[list[Path]]:
    """STEP files of a folder or a zip file, sorted by name, every so many."""
    with tempfile.TemporaryDirectory() as folder:
        if source.suffix == ".zip":
            zipfile.ZipFile(source).extractall(folder)
            source = Path(folder)
        yield sorted(p for p in source.rglob("*") if p.suffix.lower() in (".step", ".stp"))[::every]


def plain_read(path: Path) -> None:
    """The kernel's own reading."""
    reader = STEPControl_Reader()
    reader.ReadFile(str(path))
    reader.TransferRoots()


def seconds(read: object, path: Path) -> float:
    """CPU time of one reading."""
    began = time.process_time()
    read(path)  # type: ignore[operator]
    return time.process_time() - began


def measure(files: list[Path]) -> str:
    """One line of figures."""
    ratios, ways, refused = [], Counter[str](), []
    for path in files:
        try:
            ways[read_solid(path).reading] += 1  # also warms the file up
        except SidewiseError as error:
            refused.append(f"{path.name}: {error.message}")
            continue
        plain = seconds(plain_read, path)
        ratios.append(seconds(read_solid, path) / plain)
    median = f"median ratio {statistics.median(ratios):.2f}" if ratios else "nothing read"
    return "\n  refused: ".join(
        [f"{len(files)} files, {median}, readings {dict(ways)}, {len(refused)} refused", *refused]
    )


def main() -> None:
    """Prints a line for each source."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("sources", nargs="+", type=Path)
    parser.add_argument("--every", type=int, default=1, help="measure every so many files")
    options = parser.parse_args()
    for source in options.sources:
        with files_of(source, options.every) as files:
            print(f"{source}: {measure(files)}")


if __name__ == "__main__":
    main()
