"""Our reach beside the oracle's, face by face and direction by direction: where they disagree beyond its resolution."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from recognizer.access import reach_of_snapshot
from recognizer.frame import frame_of
from recognizer.kernel.snapshot import snapshot_of
from recognizer.pipeline import recognize_snapshot
from shared.reach import ReachLimits
from tests.access.oracle import POINTS, HeightMap, points_on, seen, triangles_of
from tests.access.parts import flat, shop

STEPS = 220
"""Cells of the height map along the part's longer side."""
SIGHT = 3 * 0.5 / POINTS**0.5 + 0.01
"""Three deviations of a share found by so many points, and a little for facets."""


def disagreements(solid: Any, diameters: Sequence[float] = (4.0, 10.0), sides: int = 6) -> tuple[list[str], int]:
    """(disagreements in words, comparisons made) of a kernel solid from its main directions.

    Cutters of less than two steps of the height map are left out: it cannot show them.
    """
    snapshot = snapshot_of(solid)
    directions = frame_of(snapshot).directions[:sides]
    table = shop(*(flat(d) for d in sorted(diameters)))
    ids = [f"D{d:g}" for d in diameters]
    document = reach_of_snapshot(
        snapshot, recognize_snapshot(snapshot), table, directions, ReachLimits(fail=1e6), ids=ids
    )
    face, t, normals = triangles_of(solid)
    points = points_on(face, t, normals)
    out: list[str] = []
    count = 0
    for k, direction in enumerate(directions):
        d = np.array(direction)
        lit = seen(points, t, d)
        said = {f.index: v for f in document.faces for v in f.views if v.direction == k}
        for f in np.unique(points.face).tolist():
            count += 1
            theirs, ours = float(lit[points.face == f].mean()), said[f].seen if f in said else 0.0
            if abs(theirs - ours) > SIGHT:
                out.append(
                    f"face {f} ({document.faces[f].surface}) from {direction}: seen {ours:.3f}, rays say {theirs:.3f}"
                )
        out += _touch(document, points, t, d, k, said, lit, diameters)
        count += len(said) * len(diameters)
    return out, count


def _touch(document: Any, points: Any, t: Any, d: Any, k: int, said: Any, lit: Any, diameters: Any) -> list[str]:
    size = max(np.ptp(t.reshape(-1, 3), axis=0))
    step = max(size / STEPS, 0.1)
    field = HeightMap(t, d, step, max(diameters) + 6 * step)
    out = []
    for i, diameter in enumerate(diameters):
        if diameter < 2 * step:
            continue  # the map cannot tell such a cutter from none
        most = field.touched(points, diameter / 2, -step) & lit
        least = field.touched(points, diameter / 2 + 2.5 * step, -step / 2) & lit
        for f, v in said.items():
            own = points.face == f
            high, low, ours = float(most[own].mean()), float(least[own].mean()), v.by[i].share
            if not low - SIGHT - LEAN <= ours <= high + SIGHT + LEAN:
                out.append(
                    f"face {f} ({document.faces[f].surface}, {v.lies}) from {tuple(d.round(3).tolist())}: D{diameter:g} touches {ours:.3f}, "
                    f"the height map says {low:.3f} to {high:.3f} (step {step:.2f})"
                )
    return out


LEAN = 0.03
"""What both may be off on leaning faces."""
