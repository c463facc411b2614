"""A box with 4 to 10 overlapping cuts from six directions, and how many are found exactly.

python -m tests.random_parts.overlapping --seeds 40

Each cut is a plain box that enters from one side: a pocket, a slot or a step by how many of the block's sides it
leaves through. No two of its planes share a level with another's, so that every face left belongs to the one cut that
has its plane. A cut is found exactly when one feature owns just the faces that are left of it; cuts of which nothing
is left, or that another cut wholly explains, are not counted.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cadquery as cq
import numpy as np

from tests.benchmarks import pool
from tests.random_parts.build import OVER

SIZE = (100.0, 80.0, 60.0)
GRID = 0.5
"""Levels of planes are drawn without repetition from a grid this fine, along each axis."""


@dataclass(frozen=True)
class Cut:
    """An axis-parallel box that is taken away: low and high corner, beyond the block where it leaves it."""

    low: tuple[float, float, float]
    high: tuple[float, float, float]

    def owns(self, axis: int, level: float, outwards: float) -> bool:
        """Whether a plane face across `axis` at a level, with its outward normal's sign, is this cut's wall or floor."""
        wall = self.low[axis] if outwards > 0 else self.high[axis]
        return abs(wall - level) < 1e-6 and 0.0 < level < SIZE[axis]


def part(seed: int) -> tuple[cq.Shape, list[Cut]]:
    """The part of a seed and its cuts; seeds whose cuts split the block are drawn again."""
    rng = np.random.RandomState(seed)
    while True:
        try:
            cuts = _cuts(rng)
        except StopIteration:  # no level left that fits
            continue
        solid: cq.Shape = cq.Workplane().box(*SIZE, centered=False).findSolid()
        for c in cuts:
            size = np.subtract(c.high, c.low)
            solid = solid.cut(cq.Workplane().box(*size, centered=False).translate(c.low).findSolid())
        if len(solid.Solids()) == 1 and len(solid.Shells()) == 1 and solid.isValid():
            return solid.Solids()[0], cuts


def _cuts(rng: np.random.RandomState) -> list[Cut]:
    free = [list(rng.permutation(np.arange(4, SIZE[k] - 4, GRID))) for k in range(3)]
    return [_cut(rng, free) for _ in range(rng.randint(4, 11))]


def _cut(rng: np.random.RandomState, free: list[list[float]]) -> Cut:
    axis, top = int(rng.randint(3)), bool(rng.randint(2))
    low, high = [0.0] * 3, [0.0] * 3
    for k in range(3):
        if k == axis:
            depth = _take(free[k], lambda v, n=SIZE[k]: 0.1 * n < (n - v if top else v) < 0.45 * n)
            low[k], high[k] = (depth, SIZE[k] + OVER) if top else (-OVER, depth)
            continue
        a = _take(free[k], lambda v: True)
        width = rng.uniform(0.15, 0.5) * SIZE[k]
        b = _take(free[k], lambda v, a=a, w=width: abs(abs(v - a) - w) < 4)
        low[k], high[k] = min(a, b), max(a, b)
        if rng.uniform() < 0.35:  # it leaves the block on one side or on both
            low[k] = -OVER
        if rng.uniform() < 0.35:
            high[k] = SIZE[k] + OVER
    return Cut((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def _take(levels: list[float], fits: Callable[[float], bool]) -> float:
    """The first level that fits, and no other cut's from now on. Raises StopIteration where none is left."""
    chosen = next(v for v in levels if fits(v))
    levels.remove(chosen)
    return float(chosen)


def left_of(shape: cq.Shape, cuts: list[Cut]) -> list[frozenset[int]]:
    """Faces that are left of each cut, by index in the shape's order; empty sets where nothing is."""
    out: list[set[int]] = [set() for _ in cuts]
    for i, face in enumerate(shape.Faces()):
        normal, centre = face.normalAt().toTuple(), face.Center().toTuple()
        axis = int(np.argmax(np.abs(normal)))
        for cut, faces in zip(cuts, out, strict=True):
            if cut.owns(axis, centre[axis], normal[axis]):
                faces.add(i)
    return [frozenset(f) for f in out]


def score(document: Any, wanted: Iterable[frozenset[int]]) -> tuple[int, int]:
    """(cuts found exactly, cuts counted)."""
    found = {frozenset(f.faces) for f in document.features}
    counted = [w for w in wanted if w]
    return sum(w in found for w in counted), len(counted)


def main(arguments: list[str] | None = None) -> int:
    """Prints the share of cuts found exactly and of parts wholly right, and the parts that are not."""
    parser = argparse.ArgumentParser(prog="python -m tests.random_parts.overlapping", description=__doc__)
    parser.add_argument("--seeds", type=int, default=40)
    parser.add_argument("--recognizer", default=pool.DEFAULT_RECOGNIZER, metavar="MODULE:FUNCTION")
    options = parser.parse_args(arguments)
    recognize = pool.find(options.recognizer)
    good = total = whole = 0
    with tempfile.TemporaryDirectory() as scratch:
        for seed in range(options.seeds):
            right, count = measured(seed, Path(scratch), recognize)
            good, total, whole = good + right, total + count, whole + (right == count)
            if right < count:
                print(f"seed {seed}: {right} of {count}", flush=True)
    share = f"{good} of {total} overlapping cuts found exactly ({good / total:.1%})"
    print(f"{share}, {whole} of {options.seeds} parts wholly")
    return 0


def measured(seed: int, folder: Path, recognize: Callable[[str], Any]) -> tuple[int, int]:
    """Score of one seed's part, written to and read from a STEP file in `folder`; the file keeps the faces' order."""
    shape, cuts = part(seed)
    path = folder / f"overlapping_{seed}.step"
    cq.exporters.export(cq.Workplane(shape), str(path))
    again = cq.importers.importStep(str(path)).findSolid()
    return score(recognize(str(path)), left_of(again, cuts))


if __name__ == "__main__":
    sys.exit(main())
