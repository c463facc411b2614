"""How long the simulation takes beside the plan, and how it grows: `python -m tests.proof [PART.step ...]`.

CPU seconds of the plan without simulation, of the mesh, and of the simulation at three resolutions.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

from planner import plan
from planner.proof.prove import prove
from recognizer import recognize

MODELS = Path(__file__).resolve().parents[2] / "models"


def seconds(task):
    """CPU seconds of a call, and its answer."""
    start = time.process_time()
    answer = task()
    return time.process_time() - start, answer


def main(paths: list[str]) -> None:
    """One line a part and resolution."""
    print(f"{'part':24}{'operations':>11}{'plan s':>8}{'mesh s':>8}{'mm':>6}{'rays':>9}{'proof s':>9}{'ratio':>7}")
    for path in paths or [str(MODELS / f"{n}.step") for n in ("cable_block", "altitude_carrier", "pier_adapter")]:
        features = recognize(path)
        planned, document = seconds(lambda f=features: plan(f, {"simulate": False}))
        meshed, shape = seconds(lambda f=features: f.shape)
        for fine in (0.1, 0.2, 0.4):
            took, _ = seconds(lambda d=document, f=features, s=shape, r=fine: prove(d, f, s, r))
            rays = document.proof.simulation.rays
            row = (
                f"{Path(path).stem:24}{document.totals.operations:>11}{planned:>8.2f}{meshed:>8.2f}{fine:>6g}{rays:>9}"
            )
            print(f"{row}{took:>9.2f}{took / planned:>7.1f}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
