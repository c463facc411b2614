"""How deep a place lies: the highest material that a holder over it could meet."""

from __future__ import annotations

import numpy as np

from recognizer.access.look import Look

Array = np.ndarray


def tops_near(look: Look, low: Array, high: Array, floor: Array, distance: float) -> Array:
    """(n,) highest level of material above `floor` within a distance of boxes (n, 2) low to high; the floor if none is.

    An upper bound: corners of boxes count as inside.
    """
    s, arcs = look.segments, look.scene.arcs
    lo = np.concatenate([np.minimum(s.a, s.b), arcs.centre - arcs.radius[:, None]]) - distance
    hi = np.concatenate([np.maximum(s.a, s.b), arcs.centre + arcs.radius[:, None]]) + distance
    top = np.concatenate([s.top, arcs.top])
    out = floor.copy()
    if not len(top):
        return out
    # Highest first: the first obstacle near a box is its answer.
    order = np.argsort(-top, kind="stable")
    lo, hi, top = lo[order], hi[order], top[order]
    open_ = np.arange(len(floor))
    for start in range(0, len(top), 64):
        k = slice(start, start + 64)
        near = np.ones((len(open_), len(top[k])), bool)
        for axis in (0, 1):
            near &= lo[k, axis] <= high[open_, axis][:, None]
            near &= hi[k, axis] >= low[open_, axis][:, None]
        found = near.any(axis=1)
        first = near.argmax(axis=1)
        out[open_[found]] = np.maximum(out[open_[found]], top[k][first[found]])
        open_ = open_[~found]
        open_ = open_[floor[open_] < top[k][-1]]
        if not len(open_):
            break
    return out
