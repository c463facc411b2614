"""How the simulation's time grows: `python -m tests.benchmarks.simulation_growth`.

One of three things is changed at a time: the size of a plate with four pockets, the resolution on one plate, and the
number of pockets on a plate of one size. CPU seconds of the plan without simulation and reach, and of the simulation, the least of
some runs; behind each series the power with which the simulation grows.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import cadquery as cq
import numpy as np

from planner import plan
from planner.proof.prove import prove
from recognizer import recognize
from shared.features import FeaturesDocument

SIZES = (50.0, 100.0, 200.0)
ACROSS = (1, 2, 4, 8)
RESOLUTIONS = (0.4, 0.2, 0.1, 0.05)
ALONE = {"simulate": False, "reach": False}


def plate(size: float, across: int) -> cq.Workplane:
    """A square plate, `size` mm wide, with across x across equal pockets of half their pitch."""
    pitch = size / across
    block = cq.Workplane().box(size, size, 20.0, centered=False)
    at = [((i + 0.5) * pitch, (j + 0.5) * pitch) for i in range(across) for j in range(across)]
    wide = min(0.5 * pitch, 40.0)
    pocket = cq.Workplane().pushPoints(at).rect(wide, wide).extrude(30).edges("|Z").fillet(0.2 * wide)
    return block.cut(pocket.translate(cq.Vector(0, 0, 12)))


def seconds(task: Callable[[], object], runs: int) -> float:
    """Least CPU seconds of some runs."""
    taken = []
    for _ in range(runs):
        start = time.process_time()
        task()
        taken.append(time.process_time() - start)
    return min(taken)


def power(amounts: list[float], times: list[float]) -> float:
    """p in time ~ amount^p, by least squares."""
    return float(np.polyfit(np.log(amounts), np.log(times), 1)[0])


def measured(features: FeaturesDocument, resolution: float, runs: int) -> tuple[int, float, float]:
    """Operations, seconds of the plan and of the simulation."""
    planned = seconds(lambda: plan(features, ALONE), runs)
    document, shape = plan(features, ALONE), features.shape
    assert shape is not None
    return document.totals.operations, planned, seconds(lambda: prove(document, features, shape, resolution), runs)


def read(folder: Path, size: float, across: int) -> FeaturesDocument:
    """The features of a plate."""
    path = folder / f"plate_{size:g}_{across}.step"
    cq.exporters.export(plate(size, across), str(path))
    return recognize(path)


def main(arguments: list[str] | None = None) -> int:
    """Three series."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.simulation_growth", description=__doc__)
    parser.add_argument("--runs", type=int, default=2)
    parser.add_argument("--largest", type=float, default=SIZES[-1], help="mm: no plate is wider")
    options = parser.parse_args(arguments)
    sizes = [s for s in SIZES if s <= options.largest]
    with tempfile.TemporaryDirectory() as scratch:
        at = sizes[-1]
        cases = {
            "size, mm": [(s, s, 2, 0.1) for s in sizes],
            "resolution, mm": [(r, at, 2, r) for r in RESOLUTIONS],
            "operations": [(0.0, at, n, 0.1) for n in ACROSS],
        }
        for name, rows in cases.items():
            print(f"{name:16}{'operations':>11}{'plan s':>8}{'simulation s':>14}{'ratio':>7}")
            amounts, times = [], []
            for amount, size, across, fine in rows:
                count, planned, took = measured(read(Path(scratch), size, across), fine, options.runs)
                amounts.append(amount or float(count))
                times.append(took)
                print(f"{amounts[-1]:<16g}{count:>11}{planned:>8.2f}{took:>14.2f}{took / planned:>7.1f}", flush=True)
            print(f"simulation grows with power {power(amounts, times):.2f} of {name}\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
