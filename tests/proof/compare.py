"""The simulation beside a second method and the kernel, on random parts: `python -m tests.proof.compare --parts 100`.

The same sweeps are cut once as exact intervals on rays and once as triangle solids (manifold3d, an open-source geometry
library that shares no code with the rays). What the solids leave is compared with the rays' figure, and the solid
workpiece less what is left and with what is gouged with the kernel's own volume of the part.
"""

from __future__ import annotations

import argparse
import tempfile
from dataclasses import dataclass
from pathlib import Path

from planner import plan
from planner.proof.prove import prove
from planner.proof.workpieces import workpieces
from recognizer import recognize
from tests.random_parts.cases import CASES, build
from tests.random_parts.changes import changed


@dataclass(frozen=True)
class Row:
    """Volumes in mm3. rays, solids: the workpiece at the end. kernel: the part. left, gouged: by the rays; left_solid,
    gouged_solid: by the solids. removed: by all operations, on the rays.
    """

    name: str
    stock: float
    rays: float
    solids: float
    kernel: float
    left: float
    gouged: float
    left_solid: float
    gouged_solid: float
    removed: float

    @property
    def apart(self) -> float:
        """Share of the stock that rays and solids differ by."""
        return abs(self.rays - self.solids) / self.stock

    @property
    def off(self) -> float:
        """Share of the stock that the solid workpiece, corrected, is off the kernel's part."""
        return abs(self.solids - self.left_solid + self.gouged_solid - self.kernel) / self.stock

    @property
    def balance(self) -> float:
        """Share of the stock that removed + workpiece is off the stock, the workpiece by the other method."""
        return abs(self.removed + self.solids - self.stock) / self.stock


def compared(case: str, seed: int, folder: Path, fine: float) -> Row:
    """One random part planned, cut both ways."""
    path, _ = changed(build(case, seed), "unchanged", seed, folder)
    features = recognize(path)
    document = plan(features, {"simulate": False, "time_limit": 5.0})
    prove(document, features, features.shape, fine)
    pieces = {p.name: p.volume for p in workpieces(document, features, features.shape)}
    simulated = document.proof.simulation
    return Row(
        f"{case} {seed}", pieces["stock"], simulated.workpiece, pieces[document.setups[-1].id], features.part.volume,
        document.proof.left_uncut, document.proof.gouged, pieces.get("left", 0.0), pieces.get("gouged", 0.0),
        simulated.removed,
    )  # fmt: skip


def main() -> None:
    """One line a part whose figures differ by more than the limit, and the worst and median of all."""
    parser = argparse.ArgumentParser(prog="python -m tests.proof.compare", description=__doc__)
    parser.add_argument("--parts", type=int, default=100)
    parser.add_argument("--resolution", type=float, default=0.2)
    parser.add_argument("--limit", type=float, default=1e-3, help="share of the stock")
    options = parser.parse_args()
    rows: list[Row] = []
    with tempfile.TemporaryDirectory() as scratch:
        for n in range(options.parts):
            case, seed = list(CASES)[n % len(CASES)], n // len(CASES)
            try:
                row = compared(case, seed, Path(scratch), options.resolution)
            except Exception as error:  # noqa: BLE001 - a part that cannot be planned is that part's result
                print(f"{case} {seed}: {type(error).__name__}: {error}", flush=True)
                continue
            rows.append(row)
            if max(row.apart, row.off, row.balance) > options.limit:
                print(
                    f"{row.name}: apart {row.apart:.1e}, off the kernel {row.off:.1e}, balance {row.balance:.1e}; {row}"
                )
    for what in ("apart", "off", "balance"):
        found = sorted(getattr(r, what) for r in rows)
        print(f"{what}: median {found[len(found) // 2]:.1e}, worst {found[-1]:.1e} of the stock, {len(rows)} parts")


if __name__ == "__main__":
    main()
